package transform

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"runtime"
	"slices"
	"testing"

	"golang.org/x/sys/cpu"
	"gonum.org/v1/gonum/dsp/fourier"
)

// noise returns n samples of white noise.
func noise(n int) []float64 {
	random := rand.New(rand.NewPCG(7, uint64(n)))
	x := make([]float64, n)
	for i := range x {
		x[i] = random.NormFloat64()
	}
	return x
}

// The transform is held against gonum's, which is general and slower, at every
// length up to 8192; its inverse against itself.
func TestTransformAgreesWithGeneralOne(t *testing.T) {
	for n := 8; n <= 8192; n *= 2 {
		tolerance := 1e-12 * math.Sqrt(float64(n)) * 10
		frame := noise(n)
		magnitudes, powers := make([]float64, n/2+1), make([]float64, n/2+1)
		lines := make([]complex128, n/2+1)
		x := New(n)
		x.Magnitudes(magnitudes, frame, 3)
		x.Powers(powers, frame, 2)
		x.Forward(lines, frame)
		for k, want := range fourier.NewFFT(n).Coefficients(nil, frame) {
			size := cmplx.Abs(want)
			if math.Abs(magnitudes[k]-3*size) > tolerance || cmplx.Abs(lines[k]-want) > tolerance ||
				math.Abs(powers[k]-2*size*size) > 2*tolerance*(1+size) {
				t.Fatalf("length %d, line %d: %g, %g and %g, want %g", n, k, magnitudes[k], powers[k], lines[k], want)
			}
		}
		back := make([]float64, n)
		x.Inverse(back, lines)
		for i := range back {
			if math.Abs(back[i]-frame[i]) > tolerance {
				t.Fatalf("length %d, sample %d: %g, want %g", n, i, back[i], frame[i])
			}
		}
	}
}

// Lengths that are no power of two, or too short, are errors of the programmer.
func TestLengthIsChecked(t *testing.T) {
	for _, n := range []int{0, 4, 12, 1000} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("length %d accepted", n)
				}
			}()
			New(n)
		}()
	}
}

func BenchmarkTransform(b *testing.B) {
	for _, n := range []int{512, 1024, 2048} {
		frame, got := noise(n), make([]float64, n/2+1)
		b.Run("own", func(b *testing.B) {
			x := New(n)
			for b.Loop() {
				x.Powers(got, frame, 1)
			}
		})
		b.Run("general", func(b *testing.B) {
			fft, dst := fourier.NewFFT(n), make([]complex128, n/2+1)
			for b.Loop() {
				for k, c := range fft.Coefficients(dst, frame) {
					got[k] = real(c)*real(c) + imag(c)*imag(c)
				}
			}
		})
	}
}

// Vector instructions give each stage the bits of the plain way.
func TestStagesAgreeToTheBit(t *testing.T) {
	ran := 0
	for n := 8; n <= 8192; n *= 2 {
		x := New(n)
		re, im := noise(n)[:n/2], noise(n)[n/2:]
		for i, both := range [][2]func(re, im []float64) bool{
			{
				func(re, im []float64) bool { return x.turns.halves != nil && halvesVector(re, im, x.turns.halves) },
				func(re, im []float64) bool { halvesPlain(re, im, x.turns.halves); return true },
			},
			{
				func(re, im []float64) bool {
					return len(x.turns.stages) > 0 && fourthsVector(re, im, &x.turns.stages[len(x.turns.stages)-1])
				},
				func(re, im []float64) bool {
					fourthsPlain(re, im, &x.turns.stages[len(x.turns.stages)-1])
					return true
				},
			},
			{lastVector, func(re, im []float64) bool { lastPlain(re, im); return true }},
		} {
			gotRe, gotIm := slices.Clone(re), slices.Clone(im)
			if !both[0](gotRe, gotIm) {
				continue
			}
			ran++
			wantRe, wantIm := slices.Clone(re), slices.Clone(im)
			both[1](wantRe, wantIm)
			if !slices.Equal(gotRe, wantRe) || !slices.Equal(gotIm, wantIm) {
				t.Errorf("length %d, stage %d: %v, plain %v", n, i, gotRe[:4], wantRe[:4])
			}
		}
	}
	if runtime.GOARCH == "amd64" && cpu.X86.HasAVX && ran < 20 {
		t.Errorf("%d stages ran by vector instructions", ran)
	}
}

// The plain stages make the whole transform as well.
func TestPlainStagesTransform(t *testing.T) {
	for n := 8; n <= 1024; n *= 2 {
		x, frame := New(n), noise(n)
		want := make([]complex128, n/2)
		for k := range want {
			for i := range want {
				want[k] += complex(frame[2*i], frame[2*i+1]) * cmplx.Rect(1, -4*math.Pi*float64(k*i%(n/2))/float64(n))
			}
		}
		for i := range x.re {
			x.re[i], x.im[i] = frame[2*i], frame[2*i+1]
		}
		if x.turns.halves != nil {
			halvesPlain(x.re, x.im, x.turns.halves)
		}
		for i := range x.turns.stages {
			fourthsPlain(x.re, x.im, &x.turns.stages[i])
		}
		lastPlain(x.re, x.im)
		for k, w := range want {
			if at := x.turns.order[k]; cmplx.Abs(complex(x.re[at], x.im[at])-w) > 1e-11*math.Sqrt(float64(n)) {
				t.Fatalf("length %d, frequency %d: %g, want %g", n, k, complex(x.re[at], x.im[at]), w)
			}
		}
	}
}
