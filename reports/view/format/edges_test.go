package format_test

import (
	"math"
	"testing"

	"quietcross/reports/view/format"
)

// Numbers change their form at the ends that their comments name: powers of ten under 1e-5
// and from 1e9 on, nothing under 1e-15, prefixes by the thousand (SI brochure, 9th edition,
// table 7), minutes from 60 seconds and hours from 3600 on.
func TestFormsChangeAtTheirEnds(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{format.Number(1.01e-5, 3), "0.0000101"},
		{format.Number(0.99e-5, 3), "9.90·10⁻⁶"},
		{format.Number(0.99e9, 3), "990000000"},
		{format.Number(1.01e9, 3), "1.01·10⁹"},
		{format.Number(1.01e-15, 3), "1.01·10⁻¹⁵"},
		{format.Number(0.99e-15, 3), "0"},
		{format.Quantity(1.01e-15, "A"), "1.01\u00a0fA"},
		{format.Quantity(0.99e-15, "A"), "0\u00a0A"},
		{format.Quantity(999, "A"), "999\u00a0A"},
		{format.Quantity(700, "A"), "700\u00a0A"},
		{format.Quantity(1001, "A"), "1.00\u00a0kA"},
		{format.Quantity(0.75, "A"), "750\u00a0mA"},
		{format.Quantity(1.5, "A"), "1.50\u00a0A"},
		{format.Percent(0.5, 3), "50.0\u00a0%"},
		{format.Duration(45), "45.0\u00a0s"},
		{format.Duration(61), "1\u00a0min\u00a001\u00a0s"},
		{format.Duration(72), "1\u00a0min\u00a012\u00a0s"},
		{format.Duration(100), "1\u00a0min\u00a040\u00a0s"},
		{format.Duration(2700), "45\u00a0min\u00a000\u00a0s"},
		{format.Duration(3601), "1\u00a0h\u00a000\u00a0min"},
		{format.Duration(6600), "1\u00a0h\u00a050\u00a0min"},
		{format.Fixed(math.Pi, 9), "3.141592654"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}
