package resample_test

import (
	"math"
	"testing"

	"quietcross/dsp/resample"
)

var factors = []int{1, 2, 4, 8, 16, 32}

// TestLatencyIsExact sends a single sample up and down; the response must be
// symmetric about the latency to the last bits.
func TestLatencyIsExact(t *testing.T) {
	for _, o := range factors {
		const n, at = 512, 200
		x := make([]float64, n)
		x[at] = 1
		up := resample.NewUp(o)
		high := make([]float64, n*o)
		up.Process(high, x)
		symmetric(t, "up", high, at*o+up.Latency(), 60*o)

		clear(high)
		high[at*o] = 1
		down := resample.NewDown(o)
		low := make([]float64, n)
		down.Process(low, high)
		if l := down.Latency(); l%o == 0 {
			symmetric(t, "down", low, at+l/o, 60)
		}
	}
}

func symmetric(t *testing.T, name string, x []float64, centre, reach int) {
	t.Helper()
	for k := range reach {
		if e := math.Abs(x[centre-k] - x[centre+k]); e > 1e-16 {
			t.Fatalf("%s: lopsided by %g at ±%d about %d", name, e, k, centre)
		}
	}
}
