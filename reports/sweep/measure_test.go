package sweep

import (
	"math"
	"testing"

	"quietcross/dsp/shape"
)

// TestWeightedTHDOfOneHarmonic weighs a law that makes a third harmonic alone, 1 %
// by the third Chebyshev polynomial: of a 400 Hz tone it lies at 1.2 kHz, and of a
// 267 Hz tone at 800 Hz, where the 468 network's table has -1.9 dB (ITU-R
// BS.468-4, Table 1, tolerance 0.55 dB).
func TestWeightedTHDOfOneHarmonic(t *testing.T) {
	law, err := shape.Fit(func(x float64) (y, slope float64, err error) {
		return x + 0.01*(4*x*x*x-3*x), 1 + 0.01*(12*x*x-3), nil
	}, -2, 2, 1e-9)
	if err != nil {
		t.Fatal(err)
	}
	p := Measure(law, 1)
	if math.Abs(p.THD-0.01) > 1e-6 {
		t.Errorf("THD %g, want 0.01", p.THD)
	}
	if got := 20 * math.Log10(p.WeightedTHD(800.0/3)/0.01); math.Abs(got+1.9) > 0.55 {
		t.Errorf("weighted by %g dB at 800 Hz, want -1.9", got)
	}
}
