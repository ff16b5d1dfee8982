package bs1387

import (
	"math"
	"math/rand/v2"
	"testing"
)

func noise(n int, amplitude float64, seed uint64) []float64 {
	r := rand.New(rand.NewPCG(seed, 1))
	x := make([]float64, n)
	for i := range x {
		x[i] = amplitude * r.NormFloat64()
	}
	return x
}

func BenchmarkComparator(b *testing.B) {
	ref := [][]float64{noise(Rate, 0.1, 1), noise(Rate, 0.1, 2)}
	test := [][]float64{noise(Rate, 0.1, 3), noise(Rate, 0.1, 4)}
	c, err := NewComparator(Config{Rate: Rate, Channels: 2})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		c.Add(ref, test)
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "x-realtime")
	if math.IsNaN(c.Result().Detection) {
		b.Fatal("not a number")
	}
}

func BenchmarkReference(b *testing.B) {
	x, y := mono(chord(Rate, 0.5)), mono(deadBand(chord(Rate, 0.5), 0.01))
	r, err := NewReference(Config{Rate: Rate, Channels: 1}, x)
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		r.Compare(y)
	}
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "x-realtime")
}
