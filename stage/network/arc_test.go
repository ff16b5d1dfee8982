package network

import (
	"math"
	"testing"

	"quietcross/dsp/bracket"
)

// TestArcGoesRoundFolds follows a trigger: an amplifier that a divider of its own output
// drives away from the input. With no input it balances on the middle branch of an S,
// whose folds lie where the output meets its swing. An input beyond both folds leaves one
// output, on the other side of the S from where the input seems to lead: the curve goes
// through the opposite fold first. The output is held to bisection of the amplifier's
// one equation.
func TestArcGoesRoundFolds(t *testing.T) {
	const swing, gain, part = 10.0, 1e5, 0.2
	for _, input := range []float64{3, -5, 2.2, 40} {
		c := New()
		in, _ := c.Drive("in", input)
		plus, out := c.Node("plus"), c.Node("out")
		c.Add(
			Resistor{A: out, B: plus, Ohms: 8},
			Resistor{A: plus, B: Ground, Ohms: 2},
			Amplifier{Plus: plus, Minus: in, Out: out, Gain: gain, Bandwidth: 1e6, Swing: swing},
		)
		want, err := bracket.Root(func(v float64) (float64, error) {
			over, under := math.Log1p(math.Exp((v-swing)/clampVolts)), math.Log1p(math.Exp((-v-swing)/clampVolts))
			return part*v - input - v/gain - clampGain*clampVolts*(over-under), nil
		}, -12, 12, 0)
		if err != nil {
			t.Fatal(err)
		}
		s := c.Compile()
		if !s.follow() {
			t.Errorf("input %g V: not found", input)
			continue
		}
		if got := s.Voltage(out); math.Abs(got-want) > 1e-9 || math.Signbit(got) == math.Signbit(input) {
			t.Errorf("input %g V: output %.12g V, bisection gives %.12g V", input, got, want)
		}
	}
}
