package transform

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"testing"

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
