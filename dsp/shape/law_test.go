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

// notFalling scans sign times the law for a fall of more than 1e-12 of its range.
func notFalling(t *testing.T, l *shape.Law, sign, from, to float64) {
	t.Helper()
	last := math.Inf(-1)
	for i := range 200001 {
		y := sign * l.At(from+(to-from)*float64(i)/200000)
		if y < last-1e-12*40 {
			t.Fatalf("sign %g, %g to %g: falls by %g", sign, from, to, last-y)
		}
		last = y
	}
}

// TestLawIsMonotone scans laws of pairs, rising and falling, fitted well and badly.
func TestLawIsMonotone(t *testing.T) {
	for _, p := range demoPairs() {
		for _, sign := range []float64{1, -1} {
			for _, tol := range []float64{4e-6, 1e-2, 1} {
				l := mustFit(t, func(x float64) (float64, float64, error) {
					y, slope := p.at(sign * x)
					return y, sign * slope, nil
				}, -40, 40, tol)
				notFalling(t, l, sign, -41, 41)
			}
		}
	}
}

func TestLawGoesOnStraight(t *testing.T) {
	l := mustFit(t, func(x float64) (float64, float64, error) { return x * x, 2 * x, nil }, -1, 3, 1e-9)
	if lo, hi := l.Range(); lo != -1 || hi != 3 {
		t.Errorf("range from %g to %g", lo, hi)
	}
	for x, want := range map[float64]float64{-1: 1, -11: 21, 3: 9, 13: 69, 0.5: 0.25} {
		if got := l.At(x); math.Abs(got-want) > 1e-12*want {
			t.Errorf("at %g: %g, want %g", x, got, want)
		}
	}
	if l.Slope(-5) != -2 || l.Slope(7) != 6 {
		t.Errorf("slopes %g and %g beyond the ends", l.Slope(-5), l.Slope(7))
	}
	if !math.IsNaN(l.At(math.NaN())) {
		t.Error("no number has a value")
	}
}

// TestFitMeetsACorner: what is left of a corner is within the last cell, and does
// not overshoot.
func TestFitMeetsACorner(t *testing.T) {
	for _, corner := range []float64{0, 0.3, 0.30000037, 0.3000011, 0.30000141, 1. / 3} {
		l := mustFit(t, func(x float64) (float64, float64, error) {
			if x < corner {
				return 0, 0, nil
			}
			return x - corner, 1, nil
		}, -1, 1, 1e-9)
		if d := l.Deviation(); d > 2./(1<<20) {
			t.Errorf("deviation %g", d)
		}
		if n := l.Cells(); n > 60 {
			t.Errorf("%d cells for one corner", n)
		}
		notFalling(t, l, 1, corner-1e-5, corner+1e-5)
		for x := corner - 1e-5; x < corner+1e-5; x += 1e-9 {
			if s := l.Slope(x); s < 0 || s > 1+1e-9 {
				t.Fatalf("corner at %g: slope %g at %g", corner, s, x)
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
		"noise": {func(x float64) (float64, float64, error) {
			return x + 1e-6*math.Sin(1e9*x), 1, nil
		}, -1, 1, 1e-9},
	}
	for name, c := range cases {
		if _, err := shape.Fit(c.f, c.lo, c.hi, c.tol); err == nil {
			t.Errorf("%s: accepted", name)
		} else if name == "error" && !errors.Is(err, broken) {
			t.Errorf("%s: %v does not wrap the function's own error", name, err)
		}
	}
}
