package weighting

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// short calls f with every section of the weightings that is carried out four samples at a
// time, at the lowest and the highest rate and between.
func short(f func(rate float64, s section)) {
	for _, rate := range []float64{MinRate, 44100, 48000, 192000, MaxRate} {
		for _, w := range []*Filter{K(rate), A(rate), Noise468(rate)} {
			for _, s := range w.stages {
				if s.four != nil {
					f(rate, s.section)
				}
			}
		}
	}
}

func noise(n int) []float64 {
	rng := rand.New(rand.NewPCG(4, 4))
	x := make([]float64, n)
	for i := range x {
		x[i] = rng.NormFloat64()
	}
	return x
}

// TestFourfoldIsTheSection: look-ahead leaves what a section, carried out sample by sample,
// makes of noise.
func TestFourfoldIsTheSection(t *testing.T) {
	x, count := noise(50000), 0
	short(func(rate float64, s section) {
		count++
		want, got := make([]float64, len(x)), make([]float64, len(x))
		transposed(want, x, s, make([]float64, 2))
		newFourfold(s).process(got, x)
		worst, peak := 0.0, 0.0
		for i := range want {
			worst, peak = max(worst, math.Abs(got[i]-want[i])), max(peak, math.Abs(want[i]))
		}
		if !(worst < 1e-9*peak) {
			t.Errorf("section of poles %g, %g at %g Hz: off by %g of %g", s.a1, s.a2, rate, worst, peak)
		}
	})
	if count < 15 {
		t.Errorf("%d sections are short", count)
	}
}

// TestVectorsAgreeToTheBit: vectors and plain Go agree, however the stream is cut, in place
// too.
func TestVectorsAgreeToTheBit(t *testing.T) {
	x := noise(3000)
	rng := rand.New(rand.NewPCG(5, 5))
	took := 0
	short(func(rate float64, s section) {
		want := make([]float64, len(x))
		plain := newFourfold(s)
		for at := range x {
			plain.x[reach] = x[at]
			plain.plain(0, 1)
			want[at] = plain.y[reach]
			copy(plain.x[:reach], plain.x[1:])
			copy(plain.y[:reach], plain.y[1:])
		}
		f, got := newFourfold(s), slices.Clone(x)
		for at := 0; at < len(x); {
			n := min(len(x)-at, 1+rng.IntN(2*chunk))
			f.process(got[at:at+n], got[at:at+n])
			at += n
		}
		took += newFourfold(s).vectors(chunk)
		for i := range want {
			if math.Float64bits(got[i]) != math.Float64bits(want[i]) {
				t.Fatalf("%g Hz, sample %d: %g, %g one by one", rate, i, got[i], want[i])
			}
		}
	})
	if hasVectors && took == 0 {
		t.Error("no vectors were used")
	}
	if !hasVectors {
		t.Skip("this processor has no vector instructions that are used: plain Go alone was tested")
	}
}
