package fit

import (
	"math"
	"testing"

	"quietcross/stage/quantity"
)

// TestEdgeOfFixed: a value whose 95 % interval reaches to less than 30 % beyond it is
// fixed by the recording. The interval of a logarithm of standard uncertainty s reaches
// to the factor e^(1.96 s).
func TestEdgeOfFixed(t *testing.T) {
	for factor, want := range map[float64]bool{1.29: true, 1.31: false} {
		p := ratioParameter("x", quantity.Ampere, 2, math.Log(factor)/1.96)
		if p.Identified != want || math.Abs(p.High-2*factor) > 1e-12 || math.Abs(p.Low-2/factor) > 1e-12 {
			t.Errorf("factor %g: %+v", factor, p)
		}
	}
}

// TestTrust: a line counts with its recorded uncertainty, half a percent of itself and
// -110 dB of the tones, as independent parts.
func TestTrust(t *testing.T) {
	tones := Observation{Amplitudes: []float64{6, 4}}
	floor := math.Pow(10, -110.0/20) * 10
	for _, c := range []struct {
		line Line
		want float64
	}{
		{Line{}, floor},
		{Line{Volts: 2}, math.Hypot(0.01, floor)},
		{Line{Volts: -2, Sigma: 0.02}, math.Hypot(0.02, math.Hypot(0.01, floor))},
	} {
		if got := uncertainty(c.line, tones); math.Abs(got/c.want-1) > 0.06 { // 3e-6 is -110.5 dB
			t.Errorf("%+v: %g, want %g", c.line, got, c.want)
		}
	}
}
