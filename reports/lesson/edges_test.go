package lesson

import (
	"encoding/binary"
	"math"
	"testing"

	"quietcross/dsp/level"
	"quietcross/stage"
)

// What is legal at its ends; TestRefusals goes beyond them.
func TestLegalEnds(t *testing.T) {
	o := DefaultOptions(stage.Spec{})
	if o.Seconds != 4 || o.Playback != 92 || o.check() != nil {
		t.Errorf("%+v: %v", o, o.check())
	}
	for _, seconds := range []float64{0.99, 10.1} {
		if o.Seconds = seconds; o.check() == nil {
			t.Errorf("%g s was taken", seconds)
		}
	}
	for _, seconds := range []float64{1, 10} {
		o.Seconds, o.Workers = seconds, 1
		if err := o.check(); err != nil {
			t.Error(err)
		}
	}
}

// The ladder goes from a ten-thousandth of the optimum to ten times it, for a lone device
// to twice it, about a hundredth of what can be set where there is no optimum.
func TestLadderRange(t *testing.T) {
	for name, times := range map[string]float64{"pair-12w": 10, "single-class-a": 2} {
		spec, err := stage.Lookup(name)
		if err != nil {
			t.Fatal(err)
		}
		st, err := stage.New(spec)
		if err != nil {
			t.Fatal(err)
		}
		low, high, err := ladderRange(st)
		if err != nil {
			t.Fatal(err)
		}
		minimum, most, err := st.QuiescentRange()
		if err != nil {
			t.Fatal(err)
		}
		around := st.OptimumQuiescent()
		if around == 0 {
			around = most / 100
		}
		wantLow, wantHigh := max(around/1e4, 2*minimum), min(times*around, most)
		if math.Abs(low/wantLow-1) > 1e-9 || math.Abs(high/wantHigh-1) > 1e-9 {
			t.Errorf("%s: %g to %g A, want %g to %g", name, low, high, wantLow, wantHigh)
		}
		t.Logf("%s: optimum %g A, legal %g to %g A, ladder %g to %g A", name, st.OptimumQuiescent(), minimum, most, low, high)
	}
}

// An excerpt has its length, fades over 50 ms at both ends and peaks at 0.9.
func TestExcerptIsFaded(t *testing.T) {
	x, err := excerpt("struck-string", 1, 1, 1)
	if err != nil {
		t.Fatal(err)
	}
	whole, err := excerpt("struck-string", 0.9, 2, 1)
	if err != nil {
		t.Fatal(err)
	}
	if len(x) != 48000 || math.Abs(level.Peak(x)-0.9) > 1e-12 || x[0] != 0 || x[len(x)-1] != 0 {
		t.Errorf("%d samples, peak %g, ends %g and %g", len(x), level.Peak(x), x[0], x[len(x)-1])
	}
	// The same music without its fade: in the middle of 50 ms it is half, beyond it whole.
	ratio := func(i int) float64 { return x[i] / whole[i+4800] }
	after := ratio(24000)
	for _, c := range []struct {
		at   int
		want float64
	}{{1200, 0.5}, {2399, 1}, {2401, 1}} {
		if got := ratio(c.at) / after; !(math.Abs(got-c.want) <= 1e-3) {
			t.Errorf("sample %d: faded to %g, want %g", c.at, got, c.want)
		}
	}
}

// A sound is turned up by its level, but not beyond full scale, and its strongest sample
// stored as 32760.
func TestTurnedUp(t *testing.T) {
	for peak, want := range map[float64]float64{0.09: 0.9, 0.11: 1} {
		if got := level.Peak(turnedUp([]float64{peak, -peak / 2}, -20)); math.Abs(got-want) > 1e-12 {
			t.Errorf("peak of %g: %g", peak, got)
		}
	}
	if got := int16(binary.LittleEndian.Uint16(newTrack([]float64{0.25, -0.1}).PCM)); got != 32760 {
		t.Errorf("full scale is %d", got)
	}
	in, err := newInputs(1, 1)
	if err != nil {
		t.Fatal(err)
	}
	if len(in.tone) != 48000 || math.Abs(level.Peak(in.tone)-0.9) > 1e-3 || math.Abs(in.tone[40]-0.9*math.Sin(2*math.Pi*330*40/48000)) > 1e-12 {
		t.Errorf("tone of %d samples, peak %g", len(in.tone), level.Peak(in.tone))
	}
}
