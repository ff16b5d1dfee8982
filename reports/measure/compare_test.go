package measure

import (
	"math"
	"slices"
	"testing"
)

// programme returns noise without content near half the rate.
func programme(n int, seed uint64) []float64 {
	x := noisy(make([]float64, n), 0.3, seed)
	for range 6 {
		for i := n - 1; i > 0; i-- {
			x[i] = (x[i] + x[i-1]) / 2
		}
	}
	return x
}

func compared(t *testing.T, c *ChannelResidual, key string) float64 {
	t.Helper()
	f, ok := c.Figure(key)
	if !ok {
		t.Fatalf("no figure %s", key)
	}
	return f.Value
}

// A capture delayed, halved, inverted, filtered and with noise of a known level.
func TestCompare(t *testing.T) {
	const rate, n = 48000, 3 * 48000
	reference := programme(n, 5)
	capture := make([]float64, n)
	for i := 2; i < n; i++ {
		capture[i] = -0.5 * (reference[i-1] + 0.2*reference[i-2])
	}
	power := 0.0
	for _, v := range capture {
		power += v * v / n
	}
	capture = slices.Concat(make([]float64, 1000), noisy(capture, math.Sqrt(power)/1000, 6))
	c, err := Compare([][]float64{reference}, [][]float64{capture, capture}, rate, rate, CompareOptions{LinearTaps: 33})
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Channels) != 2 || len(c.Warnings) != 1 {
		t.Fatalf("%d channels, warnings %q", len(c.Channels), c.Warnings)
	}
	r := &c.Channels[1]
	if !r.Inverted {
		t.Error("polarity not seen")
	}
	if d := compared(t, r, "delay"); d < 1001 || d > 1002 {
		t.Errorf("delay %v samples, want 1001 and the filter's part of one", d)
	}
	if got := decibels(compared(t, r, "nonlinear")); math.Abs(got+60) > 0.2 {
		t.Errorf("what the filter does not explain %.2f dB, the noise is at -60", got)
	}
	if share := compared(t, r, "nonlinear_share"); share > 0.05 {
		t.Errorf("nonlinear share %v of a linear change", share)
	}
	if len(r.Signal) != len(r.Residual) || len(r.Residual) != len(r.NonlinearResidual) {
		t.Error("bands differ in number")
	}
	if len(r.Aligned) != r.To-r.From || len(r.Rest) != r.To-r.From {
		t.Error("aligned audio and its frames differ")
	}
}

func TestCompareRefusals(t *testing.T) {
	x := programme(48000, 7)
	for name, f := range map[string]func() error{
		"other rate": func() error {
			_, err := Compare([][]float64{x}, [][]float64{x}, 44100, 48000, CompareOptions{})
			return err
		},
		"more channels": func() error {
			_, err := Compare([][]float64{x, x}, [][]float64{x}, 48000, 48000, CompareOptions{})
			return err
		},
		"no channel": func() error { _, err := Compare(nil, [][]float64{x}, 48000, 48000, CompareOptions{}); return err },
		"even taps": func() error {
			_, err := Compare([][]float64{x}, [][]float64{x}, 48000, 48000, CompareOptions{LinearTaps: 4})
			return err
		},
		"silence": func() error {
			_, err := Compare([][]float64{x}, [][]float64{make([]float64, 48000)}, 48000, 48000, CompareOptions{})
			return err
		},
		"other music": func() error {
			_, err := Compare([][]float64{x}, [][]float64{programme(48000, 8)}, 48000, 48000, CompareOptions{})
			return err
		},
	} {
		if f() == nil {
			t.Errorf("%s was compared", name)
		}
	}
}
