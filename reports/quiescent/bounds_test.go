package quiescent

import (
	"context"
	"math"
	"testing"

	"quietcross/corpus/bias"
	"quietcross/reports/inspect"
	"quietcross/stage"
)

// A stage is set to a tenth of the numerically best current at least, and to 2 % over what
// hearing asks for where that is more than the best.
func TestBounds(t *testing.T) {
	for _, c := range []struct {
		r         Recommendation
		low, high float64
	}{
		{Recommendation{Margin: 0.05, Best: 1, Maximum: 10}, 0.1, 1},
		{Recommendation{Margin: 0.2, Best: 1, Maximum: 10}, 0.2, 1},
		{Recommendation{Margin: 1, Best: 0.5, Maximum: 10}, 1, 1.02},
		{Recommendation{Margin: 1, Best: 0.5, Maximum: 1.01}, 1, 1.01},
		{Recommendation{Best: 10, Maximum: 0.5}, 0.5, 0.5},
	} {
		if low, high := c.r.bounds(); low != c.low || math.Abs(high-c.high) > 1e-12 {
			t.Errorf("%+v: %g to %g, want %g to %g", c.r, low, high, c.low, c.high)
		}
	}
}

// What lies within a thousandth of a current of the table is in it.
func TestInTheTable(t *testing.T) {
	ended, end := context.WithCancel(t.Context())
	end()
	for off, known := range map[float64]bool{0.9e-3: true, -0.9e-3: true, 1.1e-3: false, -1.1e-3: false} {
		c := &climber{low: 0.1, high: 10, options: &Options{Workers: 1}}
		r := &Result{Rungs: []Rung{{Quiescent: 1 + off}}}
		if got := c.extend(ended, r, 1) == nil; got != known { // to evaluate it is refused
			t.Errorf("%g off: in the table %v", off, got)
		}
		if got := r.at(1) != nil; got != known {
			t.Errorf("%g off: found %v", off, got)
		}
		if got := c.extend(ended, &Result{}, 10*(1+off)) == nil; got == (off < 1e-3) {
			t.Errorf("%g beyond the sweep: left out %v", off, got)
		}
	}
}

// A guide is read when 2 % of the sink's rise are left, and tells what stages come to whose
// sinks have 15 % more or less thermal resistance and whose bias parts follow a tenth less
// or more (common practice), with devices 2.5 deviations off.
func TestHealthyEnds(t *testing.T) {
	if left := math.Exp(-inspect.WarmConstants); left > 0.02 || left < 0.01 {
		t.Errorf("%g of the rise is left", left)
	}
	for _, c := range []struct{ coupling, lot float64 }{{0, 0}, {0.5, 0}, {0, 0.1}} {
		spec, err := stage.Lookup("pair-12w")
		if err != nil {
			t.Fatal(err)
		}
		spec.Thermal.Coupling = c.coupling
		o := asked(t, spec, "tone")
		o.Tolerances = Tolerances{Lot: c.lot}
		climber := climb(t, o)
		r := climber.rung(0.01)
		var g Guide
		if err := climber.healthy(&g, &r, nil); err != nil {
			t.Fatal(err)
		}
		low, high := r.Rest.Quiescent, r.Rest.Quiescent
		for _, sign := range []float64{1, -1} {
			nominal, err := climber.stage.Set(stage.Quiescent(0.01))
			if err != nil {
				t.Fatal(err)
			}
			spec := nominal.Trimmed()
			spec.Thermal.SinkToAir *= 1 + 0.15*sign
			spec.Thermal.Coupling *= 1 - 0.1*sign
			spec.Upper.Saturation *= math.Exp(-2.5 * c.lot * sign)
			spec.Lower.Saturation *= math.Exp(-2.5 * c.lot * sign)
			st, err := stage.New(spec)
			if err != nil {
				t.Fatal(err)
			}
			for _, air := range []float64{o.Limits.Coldest, o.Limits.Hottest} {
				settled, _, err := bias.Settle(st, stage.Quiescent(0.01), stage.Conditions{Air: air, Maximum: o.Limits.Junction})
				if err != nil {
					t.Fatal(err)
				}
				low, high = min(low, settled.Quiescent), max(high, settled.Quiescent)
			}
		}
		within(t, "the least healthy current", g.LowQuiescent, low, 1e-6)
		within(t, "the most healthy current", g.HighQuiescent, high, 1e-6)
	}
}
