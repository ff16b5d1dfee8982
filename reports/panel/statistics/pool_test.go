package statistics

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat"
)

// ITU-R BS.1116-3 post-screening: one-sided 95 % t test. Critical values of the
// t distribution, one-sided 5 %: 1.833 (9 degrees of freedom), 2.015 (5), 1.699
// (29); common practice, printed in every table.
func TestScreenAgainstTables(t *testing.T) {
	for n, want := range map[int]float64{10: -1.833, 6: -2.015, 30: -1.699} {
		near(t, "critical", screen(make([]float64, n), .05).Critical, want, 5e-4)
	}
	// 1, 2, 3, 4, 5: mean 3, SD √2.5, t = 3√5/√2.5 = 3√2.
	near(t, "t", screen([]float64{-1, -2, -3, -4, -5}, .05).T, -3*math.Sqrt2, 1e-12)
	rounds := func(anchors ...float64) (out []Round) {
		for _, a := range anchors {
			out = append(out, Round{Reference: 5, Anchor: a, All: []float64{5, a, 4, 3, 2}})
		}
		return out
	}
	if s := ScreenRounds(rounds(1, 1, 1), .05); !s.Kept || s.P != 0 {
		t.Errorf("a listener without scatter: %+v", s)
	}
	// Of five items drawn by lot the reference is the best and the anchor the worst in
	// one round of twenty, in both of two in one of four hundred.
	near(t, "exact", ScreenRounds(rounds(1, 1), .05).Exact, 1./400, 1e-12)
	for name, r := range map[string][]Round{"one round": rounds(1), "no round": nil, "all equal": {{5, 5, []float64{5, 5, 5}}, {5, 5, []float64{5, 5, 5}}}} {
		if s := ScreenRounds(r, .05); s.Kept {
			t.Errorf("%s was kept: %+v", name, s)
		}
	}
	// Right in one round of five and wrong in four, by a little.
	wrong := append(rounds(1), Round{4, 5, []float64{4, 5, 4, 5, 4.5}}, Round{4.5, 5, []float64{4.5, 5, 4, 5, 4.5}},
		Round{4, 4.5, []float64{4, 4.5, 4, 5, 4.5}}, Round{4.8, 5, []float64{4.8, 5, 4, 5, 4.5}})
	if s := ScreenRounds(wrong, .05); s.Kept {
		t.Errorf("wrong in four rounds of five, and kept: %+v", s)
	}
}

// A listener who guesses is excluded in 95 % of the cases at least, one who hears the
// anchor two grades down with a scatter of 0.7 is kept in 95 %: 4,000 of each, to four
// standard errors. Grades are clipped to the scale and in tenths.
func TestScreenSize(t *testing.T) {
	rng := seeded(t, 12)
	keep := func(anchor float64) float64 {
		kept := 0
		for range 4000 {
			rounds := make([]Round, 5)
			for i := range rounds {
				grade := func(mean float64) float64 {
					return math.Round(10*min(5, max(1, mean+0.7*rng.NormFloat64()))) / 10
				}
				all := []float64{grade(4.5), grade(anchor), grade(4.5 + (anchor-4.5)/4), grade(4.5 + (anchor-4.5)/2), grade(4.5 + (anchor-4.5)*3/4)}
				rounds[i] = Round{all[0], all[1], all}
			}
			if ScreenRounds(rounds, .05).Kept {
				kept++
			}
		}
		return float64(kept) / 4000
	}
	guesser, honest := keep(4.5), keep(2.5)
	t.Logf("kept: guessers %.2f %%, honest listeners %.2f %%", 100*guesser, 100*honest)
	if guesser > .05 {
		t.Errorf("%.4f of the guessers were kept", guesser)
	}
	if honest < .95 {
		t.Errorf("%.4f of the honest listeners were kept", honest)
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

// Graded panels of known means: 20 listeners who differ by 0.4 grades (standard
// deviation) and scatter by 0.5 in each of five rounds, clipped to the scale and in
// tenths, so that the known mean is that of the clipped grades. Bias under 0.05 grades,
// intervals cover 93 to 97 % (2,000 panels, standard error 0.5 %; to three of them). It
// came to a bias of 0.003 at most and 94.0 to 95.8 %.
func TestGradedPanelsOfKnownMeans(t *testing.T) {
	rng := seeded(t, 1116)
	listener := func(mean float64) float64 {
		own, sum := mean+.4*rng.NormFloat64(), 0.0
		for range 5 {
			sum += math.Round(10*min(5, max(1, own+.5*rng.NormFloat64()))) / 10
		}
		return sum / 5
	}
	const panels = 2000
	for _, mean := range []float64{4.8, 4.3, 3, 2, 1.3} {
		known := 0.0
		for range 100_000 {
			known += listener(mean) / 100_000
		}
		bias, covered := 0.0, 0
		for range panels {
			grades := make([]float64, 20)
			for i := range grades {
				grades[i] = listener(mean)
			}
			m := SummariseWithin(grades, 1, 5, .95)
			bias += (m.Mean - known) / panels
			if m.Interval.Contains(known) {
				covered++
			}
			if m.Interval.Lo < 1 || m.Interval.Hi > 5 {
				t.Fatalf("interval %+v leaves the scale", m.Interval)
			}
		}
		share := float64(covered) / panels
		t.Logf("mean %.2f: bias %+.4f, covers %.1f %%", known, bias, 100*share)
		if math.Abs(bias) > .05 || share < .93-.015 || share > .97+.015 {
			t.Errorf("mean %.2f: bias %+.4f, covers %.1f %%", known, bias, 100*share)
		}
	}
}
