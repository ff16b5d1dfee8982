package shape_test

import (
	"math"
	"math/rand/v2"
	"testing"

	"quietcross/dsp/shape"
)

// programme is seeded noise with the falling spectrum of music: even up to 500 Hz,
// then 6 dB an octave, and 12 from 2.5 kHz on.
func programme(n int, rms float64) []float64 {
	rng := rand.New(rand.NewPCG(3, 5))
	x := make([]float64, n)
	var low, lower, sum float64
	for i := range x {
		low += 0.3 * (rng.NormFloat64() - low)
		lower += 0.06 * (low - lower)
		x[i] = lower
		sum += lower * lower
	}
	for i := range x {
		x[i] *= rms / math.Sqrt(sum/float64(n))
	}
	return x
}

const benchFrames = 1 << 13

func perFrame(b *testing.B, run func()) {
	b.ReportAllocs()
	for b.Loop() {
		run()
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/benchFrames, "ns/frame")
	b.ReportMetric(0, "ns/op")
}

func BenchmarkSource(b *testing.B) {
	s := shape.NewSource(8)
	x, high := programme(benchFrames, 4), make([]float64, 8*benchFrames)
	perFrame(b, func() { s.Process(high, x) })
}

func BenchmarkBranch(b *testing.B) {
	unbiased := mustFit(b, demoPairs()["unbiased"].law, -40, 40, 4e-6)
	biased := mustFit(b, demoPairs()["1.2V"].law, -40, 40, 4e-6)
	cases := []struct {
		name string
		law  *shape.Law
		rms  float64
	}{
		{"linear", shape.Linear(1), 4},
		{"unbiased", unbiased, 4},
		{"biased", biased, 4},
		{"biased/-40dB", biased, 0.04},
	}
	for _, c := range cases {
		b.Run(c.name, func(b *testing.B) {
			s, br := shape.NewSource(8), shape.NewBranch(c.law, 8)
			x, high := programme(benchFrames, c.rms), make([]float64, 8*benchFrames)
			s.Process(high, x)
			y := make([]float64, benchFrames)
			perFrame(b, func() { br.Process(y, high) })
		})
	}
}

func BenchmarkShaper(b *testing.B) {
	l := mustFit(b, demoPairs()["1.2V"].law, -40, 40, 4e-6)
	s, sh := shape.NewSource(8), shape.NewShaper(l)
	x, high := programme(benchFrames, 4), make([]float64, 8*benchFrames)
	s.Process(high, x)
	y := make([]float64, len(high))
	perFrame(b, func() { sh.Process(y, high) })
}
