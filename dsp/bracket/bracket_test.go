package bracket

import (
	"errors"
	"math"
	"testing"
)

// TestRoots checks known roots: Lambert's W(10) (Corless and others, Advances in
// Computational Mathematics 5:329, 1996, computed at high precision), the
// fixed point of the cosine (Dottie number), and powers, whose roots are zero, of
// which a high one is flat. Counted too: how often the function is asked.
func TestRoots(t *testing.T) {
	for _, row := range []struct {
		name   string
		f      func(float64) float64
		lo, hi float64
		want   float64
		within float64
		most   int
	}{
		{"W(10)", func(x float64) float64 { return x*math.Exp(x) - 10 }, 0, 10, 1.745528002740699, 4e-16, 16},
		{"fixed point of the cosine", func(x float64) float64 { return x - math.Cos(x) }, 0, 1, 0.7390851332151607, 4e-16, 10},
		{"falling", func(x float64) float64 { return 2 - x*x }, 0, 2, math.Sqrt2, 4e-16, 14},
		{"ends turned", func(x float64) float64 { return 2 - x*x }, 2, 0, math.Sqrt2, 4e-16, 14},
		{"ninth power", func(x float64) float64 { return math.Pow(x, 9) }, -1, 1.5, 0, 1e-30, 400}, // to rounding about 0: all of the range of float64,
		{"a jump", func(x float64) float64 { return math.Copysign(1, x-0.3) }, 0, 1, 0.3, 4e-16, 60},
		{"at an end", func(x float64) float64 { return x }, 0, 1, 0, 0, 3},
	} {
		asked := 0
		got, err := Root(Sure(func(x float64) float64 { asked++; return row.f(x) }), row.lo, row.hi, 0)
		if err != nil || !(math.Abs(got-row.want) <= row.within) {
			t.Errorf("%s: %.17g, %v, want %.17g", row.name, got, err, row.want)
		}
		if asked > row.most {
			t.Errorf("%s: asked %d times, %d should do", row.name, asked, row.most)
		}
	}
}

// TestRootTolerance checks that a coarse search is within its tolerance and cheaper.
func TestRootTolerance(t *testing.T) {
	asked := 0
	got, err := Root(Sure(func(x float64) float64 { asked++; return x*math.Exp(x) - 10 }), 0, 10, 1e-2)
	if err != nil || math.Abs(got-1.745528002740699) > 1e-2 || asked > 12 {
		t.Errorf("%g after %d evaluations, %v", got, asked, err)
	}
}

// TestMinima checks minima that are known: those of x^x, 1/e, of the gamma function
// over positive arguments, 1.4616321449683623 (Abramowitz and Stegun 6.1.19),
// and of functions with a kink or a flat.
func TestMinima(t *testing.T) {
	for _, row := range []struct {
		name         string
		f            func(float64) float64
		lo, hi, want float64
		within       float64
		most         int
	}{
		{"x^x", func(x float64) float64 { return math.Pow(x, x) }, 0.01, 3, 1 / math.E, 3e-8, 25},
		{"gamma", math.Gamma, 0.5, 4, 1.4616321449683623, 5e-8, 25},
		{"kink", func(x float64) float64 { return math.Abs(x - 0.7) }, -2, 3, 0.7, 5e-8, 70},
		{"fourth power", func(x float64) float64 { return math.Pow(x-0.2, 4) }, -1, 1, 0.2, 1e-3, 90},
		{"falling", func(x float64) float64 { return -x }, 0, 1, 1, 5e-8, 50},
	} {
		asked := 0
		got, value, err := Minimum(Sure(func(x float64) float64 { asked++; return row.f(x) }), row.lo, row.hi, 1e-9)
		if err != nil || !(math.Abs(got-row.want) <= row.within) || value != row.f(got) {
			t.Errorf("%s: %.17g with %g, %v, want %.17g", row.name, got, value, err, row.want)
		}
		if asked > row.most {
			t.Errorf("%s: asked %d times, %d should do", row.name, asked, row.most)
		}
	}
}

// TestRefusals checks ends of one sign, a function that is not a number there, and a
// function that fails.
func TestRefusals(t *testing.T) {
	for _, f := range []func(float64) float64{
		func(float64) float64 { return 1 },
		func(float64) float64 { return math.NaN() },
	} {
		if _, err := Root(Sure(f), 0, 1, 0); !errors.Is(err, ErrSigns) {
			t.Errorf("error %v", err)
		}
	}
	failure := errors.New("no value")
	for at := range 5 {
		calls := 0
		f := func(x float64) (float64, error) {
			calls++
			if calls > at {
				return 0, failure
			}
			return math.Exp(x) - 5, nil
		}
		if _, err := Root(f, 0, 9, 0); !errors.Is(err, failure) {
			t.Errorf("failing at call %d: error %v", at, err)
		}
		calls = 0
		if _, _, err := Minimum(f, 0, 9, 0); !errors.Is(err, failure) {
			t.Errorf("failing at call %d: error %v", at, err)
		}
	}
}
