package shape_test

import (
	"errors"
	"math"
	"testing"

	"quietcross/dsp/shape"
)

// roomTemperature is kT/q in volts at 300 K.
const roomTemperature = 25.85e-3

// demoPairs are the three biases of the same pair: none (a dead band), a total of
// 1.2 V, and the optimum IQ·RE = kT/q (Oliver, Hewlett-Packard Journal, Feb 1971).
func demoPairs() map[string]pair {
	const vt, re, rl, is = roomTemperature, 0.22, 8, 1e-13
	return map[string]pair{
		"unbiased": biased(vt, re, rl, is, 0),
		"1.2V":     biased(vt, re, rl, is, 1.2),
		"optimum":  {vt, re, rl, vt / re},
	}
}

func mustFit(t testing.TB, f func(float64) (float64, float64, error), lo, hi, tol float64) *shape.Law {
	t.Helper()
	l, err := shape.Fit(f, lo, hi, tol)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

func TestFitHoldsThePairWithinTolerance(t *testing.T) {
	const tol = 1e-7
	for name, p := range demoPairs() {
		l := mustFit(t, p.law, -40, 40, tol)
		for i := range 4001 {
			x := 40 * math.Pow(10, -5*float64(i)/4000)
			want, _ := p.at(x)
			if e := math.Abs(l.At(x) - want); e > 1.5*tol*max(x/40, 1e-3) {
				t.Errorf("%s at %g V: off by %g V", name, x, e)
			}
		}
	}
}

func TestFitRefuses(t *testing.T) {
	line := func(x float64) (float64, float64, error) { return x, 1, nil }
	broken := errors.New("no operating point")
	cases := map[string]struct {
		f           func(float64) (float64, float64, error)
		lo, hi, tol float64
	}{
		"empty range":    {line, 1, 1, 1e-6},
		"not a number":   {line, math.NaN(), 1, 1e-6},
		"infinite range": {line, math.Inf(-1), 1, 1e-6},
		"no tolerance":   {line, -1, 1, 0},
		"error":          {func(float64) (float64, float64, error) { return 0, 0, broken }, -1, 1, 1e-6},
		"infinite value": {func(x float64) (float64, float64, error) { return 1 / x, 1, nil }, -1, 1, 1e-6},
	}
	for name, c := range cases {
		if _, err := shape.Fit(c.f, c.lo, c.hi, c.tol); err == nil {
			t.Errorf("%s: accepted", name)
		} else if name == "error" && !errors.Is(err, broken) {
			t.Errorf("%s: %v does not wrap the function's own error", name, err)
		}
	}
}
