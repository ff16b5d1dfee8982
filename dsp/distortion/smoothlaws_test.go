package distortion

import (
	"math"
	"testing"
)

// tanh(A sin t): third to first harmonic from the Fourier integral at high
// precision; a sinh pair keeps the odd terms of the exponential law, whose ratio
// is I3(x)/I1(x) (Abramowitz & Stegun, 9.6.34). A low tone keeps what folds back
// from above half the rate far below what is checked.
func TestSampledSmoothLaws(t *testing.T) {
	const rate, n, hertz = 192000, 96000, 203.3
	for _, c := range []struct {
		name string
		law  func(float64) float64
		want float64
	}{
		{"tanh 0.1", func(x float64) float64 { return math.Tanh(0.1 * x) }, 0.0008312555},
		{"tanh 1", math.Tanh, 0.06683187795},
		{"tanh 2", func(x float64) float64 { return math.Tanh(2 * x) }, 0.1688301828},
		{"sinh 1", math.Sinh, 0.03922510452},
		{"sinh 2", func(x float64) float64 { return math.Sinh(2 * x) }, 0.1337451466},
	} {
		x := tone(n, rate, hertz, 1)
		for i, v := range x {
			x[i] = c.law(v)
		}
		m, err := Harmonics(x, rate)
		if err != nil {
			t.Fatal(err)
		}
		third := m.Harmonics[1].Amplitude() / m.Fundamental.Amplitude()
		if math.Abs(third-c.want) > 6e-11 {
			t.Errorf("%s: third to first %.10g, want %.10g", c.name, third, c.want)
		}
		if second := m.Harmonics[0].Amplitude() / m.Fundamental.Amplitude(); second > 1e-12 {
			t.Errorf("%s: an odd law has a second harmonic of %.2g", c.name, second)
		}
	}
}
