package report

import (
	"math"
	"testing"

	"quietcross/corpus/bias"
	"quietcross/dsp/level"
)

// Ranks of five: THD 1 2 3 4 5 against noise-to-mask 2 1 4 3 5 has differences
// 1, 1, 1, 1, 0, so Spearman's rho is 1 - 6·4/(5·24) = 0.8 (his formula for lists
// without ties).
func TestCorrelationByHand(t *testing.T) {
	var list []*Rendering
	for i, noise := range []float64{-20, -30, 0, -10, 10} {
		gm := -float64(noise)
		r := &Rendering{
			Sine:      &Sine{Simple: bias.Simple{THD: float64(i + 1), WeightedTHD: 0.5, Gm: &gm}},
			Detection: &Detection{DPrime: noise},
			Weighted:  &Weighted{Flat: level.DB(noise / 2)},
		}
		if i == 4 {
			r.Sine.Gm = nil // diverges
		}
		list = append(list, r)
	}
	list = append(list, &Rendering{}) // has nothing of all that
	got := map[string]Correlation{}
	for _, c := range correlate(list) {
		got[c.Number] = c
	}
	for name, want := range map[string]Correlation{
		"thd": {"thd", 5, 0.8}, "gm": {"gm", 4, -1}, "flat_db": {"flat_db", 5, 1},
	} {
		if c := got[name]; c.Points != want.Points || math.Abs(c.Rho-want.Rho) > 1e-12 {
			t.Errorf("%s: %+v, want %+v", name, c, want)
		}
	}
	if _, ok := got["weighted_thd"]; ok {
		t.Error("a number that does not vary has a correlation")
	}
}

func TestTwoRenderingsHaveNoCorrelation(t *testing.T) {
	list := []*Rendering{
		{Sine: &Sine{Simple: bias.Simple{THD: 1}}, Detection: &Detection{DPrime: 1}},
		{Sine: &Sine{Simple: bias.Simple{THD: 2}}, Detection: &Detection{DPrime: 2}},
	}
	if got := correlate(list); len(got) > 0 {
		t.Errorf("%+v", got)
	}
}
