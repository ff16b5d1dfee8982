package statistics

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat"
)

// ITU-R BS.1116-3 post-screening: one-sided 95 % t test. Critical values of the
// t distribution, one-sided 5 %: 1.833 (9 degrees of freedom), 2.015 (5), 1.699
// (29); common practice, printed in every table.
func TestScreenGrades(t *testing.T) {
	for n, want := range map[int]float64{10: -1.833, 6: -2.015, 30: -1.699} {
		near(t, "critical", ScreenGrades(make([]float64, n), .05).Critical, want, 5e-4)
	}
	// 1, 2, 3, 4, 5: mean 3, SD √2.5, t = 3√5/√2.5 = 3√2.
	s := ScreenGrades([]float64{-1, -2, -3, -4, -5}, .05)
	near(t, "t", s.T, -3*math.Sqrt2, 1e-12)
	if !s.Kept || s.P > .05 {
		t.Errorf("a listener who hears: %+v", s)
	}
	for name, grades := range map[string][]float64{
		"guessing": {-1, 1, -.5, .5, 0}, "reversed": {1, 2, 3, 4, 5}, "one grade": {-3}, "all equal": {0, 0, 0},
	} {
		if s := ScreenGrades(grades, .05); s.Kept {
			t.Errorf("%s was kept: %+v", name, s)
		}
	}
	if s := ScreenGrades([]float64{-1, -1, -1}, .05); !s.Kept || s.P != 0 {
		t.Errorf("a listener without scatter: %+v", s)
	}
}

// The one-sided test keeps a guessing listener in 5 % of the cases.
func TestScreenSize(t *testing.T) {
	rng := seeded(t, 12)
	kept := 0
	for range 4000 {
		grades := make([]float64, 8)
		for i := range grades {
			grades[i] = rng.NormFloat64()
		}
		if ScreenGrades(grades, .05).Kept {
			kept++
		}
	}
	near(t, "kept", float64(kept)/4000, .05, 4*math.Sqrt(.05*.95/4000))
}

// ITU-R BS.1534-3: more than 15 % of the hidden references under 90.
func TestScreenReference(t *testing.T) {
	grades := func(low, all int) []float64 {
		g := make([]float64, all)
		for i := range g {
			g[i] = 95
			if i < low {
				g[i] = 89
			}
		}
		return g
	}
	if !ScreenReference(grades(3, 20)) || ScreenReference(grades(4, 20)) || ScreenReference(nil) {
		t.Error("limit of 15 %")
	}
}

// Equal standard errors have a closed form: the mean is plain and the variance
// among listeners is the sample variance less the error variance.
func TestPoolClosedForm(t *testing.T) {
	x := []float64{-55, -48, -50, -61, -52, -44}
	se := []float64{1.2, 1.2, 1.2, 1.2, 1.2, 1.2}
	p, err := Pool(x, se, .95)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "mean", p.Mean, stat.Mean(x, nil), 1e-12)
	near(t, "between", p.Between*p.Between, stat.Variance(x, nil)-1.44, 1e-9)
	near(t, "standard error", p.SE, math.Sqrt(stat.Variance(x, nil)/6), 1e-9)
	// t at 97.5 %, 5 degrees of freedom: 2.571 (common practice).
	near(t, "interval", (p.Interval.Hi-p.Mean)/p.SE, 2.571, 5e-4)
	near(t, "median", p.Median, -51, 1e-12)
	if p.Minimum != -61 || p.Maximum != -44 || len(p.Warnings) != 1 {
		t.Errorf("%+v", p)
	}
	if p, _ = Pool(x, []float64{99, 99, 99, 99, 99, 99}, .95); p.Between != 0 {
		t.Errorf("large errors leave a spread of %g", p.Between)
	}
	if p, _ = Pool(x[:1], se[:1], .95); !math.IsNaN(p.Between) || !math.IsInf(p.Interval.Hi, 1) {
		t.Errorf("one listener: %+v", p)
	}
	for name, bad := range map[string][2][]float64{
		"empty": {nil, nil}, "lengths": {x, se[:2]}, "error": {x[:1], {0}}, "threshold": {{math.Inf(1)}, {1}},
	} {
		if _, err := Pool(bad[0], bad[1], .95); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

// t at 97.5 % with 4 degrees of freedom is 2.776 (common practice).
func TestSummarise(t *testing.T) {
	m := Summarise([]float64{1, 2, 3, 4, 5}, .95)
	near(t, "half width", (m.Interval.Hi-m.Mean)/math.Sqrt(2.5/5), 2.776, 5e-4)
	if len(m.Warnings) != 1 {
		t.Errorf("five listeners: %q", m.Warnings)
	}
	if m = Summarise([]float64{2}, .95); m.Mean != 2 || !math.IsInf(m.Interval.Lo, -1) {
		t.Errorf("one value: %+v", m)
	}
	if m = Summarise(nil, .95); !math.IsNaN(m.Mean) {
		t.Errorf("no value: %+v", m)
	}
	if m = Summarise(make([]float64, 20), .95); len(m.Warnings) != 0 {
		t.Errorf("twenty listeners: %q", m.Warnings)
	}
}
