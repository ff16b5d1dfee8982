package plot

import (
	"math"
	"slices"
	"strings"
	"testing"
)

func labels(ticks []Tick) string {
	var list []string
	for _, t := range ticks {
		if t.Label != "" {
			list = append(list, t.Label)
		}
	}
	return strings.ReplaceAll(strings.Join(list, " "), "−", "-")
}

// The expected labels follow from the 1-2-5 rule by hand.
func TestTickLabels(t *testing.T) {
	for _, c := range []struct {
		name         string
		axis         Axis
		length, room float64
		want         string
	}{
		{"audio", Axis{Unit: "Hz", SI: true, Log: true, Lo: 20, Hi: 20000}, 480, 46, "20 50 100 200 500 1k 2k 5k 10k 20k"},
		{"audio, narrow", Axis{Unit: "Hz", SI: true, Log: true, Lo: 20, Hi: 20000}, 300, 46, "100 1k 10k"},
		{"many decades", Axis{Log: true, Lo: 1e-6, Hi: 1}, 200, 46, "0.000001 0.0001 0.01 1"},
		{"under a decade", Axis{Unit: "Hz", SI: true, Log: true, Lo: 1100, Hi: 1900}, 300, 60, "1.2k 1.4k 1.6k 1.8k"},
		{"decibels", Axis{Unit: "dB", Lo: -120, Hi: 0}, 220, 30, "-120 -100 -80 -60 -40 -20 0"},
		{"volts", Axis{Unit: "V", SI: true, Lo: -0.05, Hi: 0.05}, 300, 46, "-40 -20 0 20 40"},
		{"around one", Axis{Lo: 0.95, Hi: 1.05}, 300, 46, "0.96 0.98 1.00 1.02 1.04"},
	} {
		if got := labels(c.axis.Ticks(c.length, c.room)); got != c.want {
			t.Errorf("%s: labels %q, want %q", c.name, got, c.want)
		}
	}
}

func TestTicksAreOrderedInsideAndRoomy(t *testing.T) {
	for _, axis := range []Axis{
		{Lo: -0.3, Hi: 0.7},
		{Lo: -1e-9, Hi: 3e-9},
		{Lo: 1e6, Hi: 1e6 + 3},
		{Lo: 20, Hi: 24000, Log: true},
		{Lo: 0.3, Hi: 7, Log: true},
		{Lo: 3, Hi: 3.1, Log: true},
	} {
		const length, room = 317.0, 40.0
		ticks := axis.Ticks(length, room)
		before, labelled := math.Inf(-1), math.Inf(-1)
		count := 0
		for _, tick := range ticks {
			at := axis.Position(tick.Value) * length
			if at < -1e-6 || at > length+1e-6 {
				t.Errorf("%+v: tick %g outside", axis, tick.Value)
			}
			if at <= before {
				t.Errorf("%+v: tick %g does not rise", axis, tick.Value)
			}
			before = at
			if tick.Label != "" {
				// The 1-2-5 steps of a short logarithmic axis are linear and
				// crowd toward its upper end by at most its ratio.
				if !axis.Log && at-labelled < room-1e-6 {
					t.Errorf("%+v: labels %g px apart", axis, at-labelled)
				}
				labelled = at
				count++
			}
		}
		if count < 2 {
			t.Errorf("%+v: %d labels", axis, count)
		}
	}
}

func TestMinorTicksOfADecade(t *testing.T) {
	axis := Axis{Log: true, Lo: 10, Hi: 1000}
	var got []float64
	for _, tick := range axis.Ticks(240, 46) {
		if tick.Value < 100 {
			got = append(got, tick.Value)
		}
	}
	if want := []float64{10, 20, 30, 40, 50, 60, 70, 80, 90}; !slices.Equal(got, want) {
		t.Errorf("ticks %v, want %v", got, want)
	}
}

// On an axis from 20 Hz to 20 kHz, three decades, 1 kHz lies at
// log10(50)/3 = 0.566323 of the length.
func TestPosition(t *testing.T) {
	axis := Axis{Log: true, Lo: 20, Hi: 20000}
	if got := axis.Position(1000); math.Abs(got-0.5663233348) > 1e-10 {
		t.Errorf("1 kHz at %.10f", got)
	}
	if got := axis.Value(axis.Position(440)); math.Abs(got-440) > 1e-9 {
		t.Errorf("back and forth: %g", got)
	}
	if got := axis.Position(0); !math.IsInf(got, -1) {
		t.Errorf("zero on a logarithmic axis at %g", got)
	}
}

func TestBadAxisPanics(t *testing.T) {
	for _, axis := range []Axis{
		{Lo: 1, Hi: 1},
		{Lo: math.NaN(), Hi: 1},
		{Lo: 0, Hi: 1, Log: true},
		{Lo: 0, Hi: math.Inf(1)},
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%+v: no panic", axis)
				}
			}()
			axis.Ticks(100, 10)
		}()
	}
}
