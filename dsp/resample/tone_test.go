package resample_test

import (
	"math"
	"testing"

	"quietcross/dsp/resample"
)

// sine fills n samples of sin(2π·f·(i-delay)).
func sine(n int, f, delay float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = math.Sin(2 * math.Pi * f * (float64(i) - delay))
	}
	return x
}

// farthest returns the maximum distance of a and b from sample settled on.
func farthest(a, b []float64, settled int) float64 {
	worst := 0.0
	for i := settled; i < len(a); i++ {
		worst = max(worst, math.Abs(a[i]-b[i]))
	}
	return worst
}

// TestUpContinuesATone compares the raised tone with the tone itself at the high
// rate, latency and all: images, ripple and delay at once. The stages' ripples of
// 9e-8 at most may add up.
func TestUpContinuesATone(t *testing.T) {
	for _, o := range factors {
		for _, f := range []float64{0, 0.013, 0.21, 0.4, resample.PassEdge} {
			up := resample.NewUp(o)
			got := make([]float64, 1000*o)
			up.Process(got, sine(1000, f, -0.3))
			want := sine(1000*o, f/float64(o), float64(up.Latency())-0.3*float64(o))
			if e := farthest(got, want, 300*o); e > 3e-7 {
				t.Errorf("%d times, %g of the base rate: off by %g", o, f, e)
			}
		}
	}
}

func TestDownKeepsATone(t *testing.T) {
	for _, o := range factors {
		for _, f := range []float64{0, 0.013, 0.21, 0.4, resample.PassEdge} {
			down := resample.NewDown(o)
			got := make([]float64, 1000)
			down.Process(got, sine(1000*o, f/float64(o), 0.2))
			delay := (float64(down.Latency()) + 0.2) / float64(o)
			if e := farthest(got, sine(1000, f, delay), 300); e > 3e-7 {
				t.Errorf("%d times, %g of the base rate: off by %g", o, f, e)
			}
		}
	}
}

// TestDownStopsWhatWouldFold sweeps tones that would fold into the pass band.
func TestDownStopsWhatWouldFold(t *testing.T) {
	const most = 2.5e-7 // -132 dB: the ripples of five stages may add up
	for _, o := range factors[1:] {
		for f := 1 - resample.PassEdge; f <= float64(o)/2; f += 0.0371 {
			if into := math.Abs(f - math.Round(f)); into > resample.PassEdge {
				continue
			}
			got := make([]float64, 700)
			resample.NewDown(o).Process(got, sine(700*o, f/float64(o), 0.2))
			if e := farthest(got, make([]float64, 700), 300); e > most {
				t.Errorf("%d times, %g of the base rate: %.1f dB left", o, f, 20*math.Log10(e))
			}
		}
	}
}
