package parts

import (
	"bytes"
	"errors"
	"math"
	"slices"
	"testing"

	"quietcross/stage"
)

// TestSeries checks values of IEC 60063 (from memory) and what lies beside them.
func TestSeries(t *testing.T) {
	for _, row := range []struct {
		got, want float64
	}{
		{E24.Nearest(4900), 5100},
		{E24.Nearest(4.8), 4.7},
		{E24.Nearest(0.96), 1},
		{E24.Nearest(97e3), 100e3},
		{E24.Nearest(2.65), 2.7},
		{E96.Nearest(494), 499},
		{E96.Nearest(101e3), 102e3},
		{E96.Nearest(0.9999), 1},
		{E96.Nearest(9.7), 9.76},
		{E96.Nearest(33), 33.2},
		{E24.Below(1e3), 1e3},
		{E24.Below(999), 910},
		{E24.Below(0.221), 0.22},
		{E96.Below(1.0199), 1},
		{trimmerFrom(1e3), 1e3},
		{trimmerFrom(1.01e3), 2e3},
		{trimmerFrom(51), 100},
		{trimmerFrom(0.3), 0.5},
	} {
		if math.Abs(row.got/row.want-1) > 1e-12 {
			t.Errorf("%g, want %g", row.got, row.want)
		}
	}
	if n := len(E96.values()); n != 96 {
		t.Errorf("%d values in a decade of E96", n)
	}
}

func look(t *testing.T, name string) *stage.Stage {
	t.Helper()
	spec, err := stage.Lookup(name)
	if err != nil {
		t.Fatal(err)
	}
	st, err := stage.New(spec)
	if err != nil {
		t.Fatal(err)
	}
	return st
}

// TestChosenPartsGiveTheCurrent chooses parts for built-in stages, writes the stage, reads
// it back and solves it as built: its current is that asked for, and as warm as was said.
func TestChosenPartsGiveTheCurrent(t *testing.T) {
	for name, amperes := range map[string]float64{
		"pair-12w": 0.0734, "pair-12w-multiplier": 0.04, "darlington-30w": 0.06, "fet-30w": 0.15,
		"single-class-a": 0.4, "push-pull-divider": 0.02, "feedback-pair-30w": 0.02, "single-supply-5w": 0.05,
	} {
		st := look(t, name)
		lo, hi, err := st.QuiescentRange()
		if err != nil {
			t.Fatal(err)
		}
		amperes = min(max(amperes, 1.2*lo), 0.8*hi)
		o := DefaultOptions()
		c, err := Choose(st, amperes, o)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		var file bytes.Buffer
		if err := c.Spec.WriteDifferent(&file); err != nil {
			t.Fatal(err)
		}
		spec, err := stage.Read(&file, "chosen.toml")
		if err != nil {
			t.Fatal(err)
		}
		again, err := stage.New(spec)
		if err != nil {
			t.Fatal(err)
		}
		b, err := again.Set(stage.AsBuilt())
		if err != nil {
			t.Fatal(err)
		}
		if got := b.Point().Quiescent; math.Abs(got/amperes-1) > 0.02 || math.Abs(got/c.Cold-1) > 1e-9 {
			t.Errorf("%s: %g A as built, asked for %g, told %g", name, got, amperes, c.Cold)
		}
		if warm, err := again.Settle(stage.AsBuilt(), 0); err == nil && math.Abs(warm.Hot/c.Warm-1) > 0.03 {
			t.Errorf("%s: %g A warm, told %g", name, warm.Hot, c.Warm)
		}
		if c.Fixed > 0 && (!slices.ContainsFunc(e24, func(v float64) bool { m, _ := decade(c.Fixed * (1 + 1e-9)); return math.Abs(v/m-1) < 1e-6 }) || c.Fixed > c.Lowest) ||
			c.Fixed+c.Trimmer < c.Highest || !(c.Set >= 0 && c.Set <= c.Trimmer) || !(c.Lowest < c.Part.Value && c.Part.Value < c.Highest) {
			t.Errorf("%s: %g + %g ohms set to %g for %g to %g", name, c.Fixed, c.Trimmer, c.Set, c.Lowest, c.Highest)
		}
		t.Logf("%s: %.4g A by %s of %.5g (%g alone gives %.4g A): %g + trimmer %g set to %.4g, for %.4g to %.4g (%v); warm %.4g A; coupling %+v",
			name, c.Cold, c.Part.Key, c.Part.Value, c.Alone, c.AloneCurrent, c.Fixed, c.Trimmer, c.Set, c.Lowest, c.Highest, c.Reaches, c.Warm, c.Coupling)
	}
}

// TestWorstUnitIsWithin sets the worst unit that the options allow for, all at once, and
// checks that the trimmer reaches it.
func TestWorstUnitIsWithin(t *testing.T) {
	st := look(t, "pair-12w-multiplier")
	o := DefaultOptions()
	c, err := Choose(st, 0.05, o)
	if err != nil {
		t.Fatal(err)
	}
	for _, side := range []int{0, 1} {
		spec := st.Spec()
		// What lowers a pair's current asks for a lower resistor from base to emitter.
		for i, differ := range differences(o, c.Part.Key) {
			way := []int{1, 1, 0, 1, 1, 0, 0}[i]
			differ[way^side](&spec)
		}
		other, err := stage.New(spec)
		if err != nil {
			t.Fatal(err)
		}
		_, part, err := trimmed(other, 0.05)
		if err != nil {
			t.Fatal(err)
		}
		if part.Value < 0.97*c.Lowest || part.Value > 1.03*c.Highest || math.Abs(part.Value/c.Part.Value-1) < 0.03 {
			t.Errorf("a worst unit needs %g, the trimmer reaches from %g to %g", part.Value, c.Lowest, c.Highest)
		}
	}
}

// TestCouplingsAreWhatTheySay puts the couplings found into the stage and settles it.
func TestCouplingsAreWhatTheySay(t *testing.T) {
	st := look(t, "darlington-30w")
	c, err := Choose(st, 0.1, DefaultOptions())
	if err != nil {
		t.Fatal(err)
	}
	if !(c.Coupling.Even > 0.1 && c.Coupling.Even < 1) {
		t.Fatalf("coupling %+v", c.Coupling)
	}
	spec := c.Spec
	spec.Thermal.Coupling = c.Coupling.Even
	warm, refusal, err := settled(spec)
	if err != nil || refusal != "" || math.Abs(warm.Hot/warm.Cold-1) > 0.01 {
		t.Errorf("at a coupling of %g: %g A cold, %g warm: %s %v", c.Coupling.Even, warm.Cold, warm.Hot, refusal, err)
	}
	if c.Coupling.Least > 0 {
		spec.Thermal.Coupling = c.Coupling.Least
		if warm, _, err = settled(spec); err != nil || math.Abs(warm.Feedback-0.5) > 0.02 {
			t.Errorf("at a coupling of %g the loop gain is %g: %v", c.Coupling.Least, warm.Feedback, err)
		}
	}
}

// TestRemediesHaveTheCurrent asks a pair for more than its feeds let its trimmer reach,
// and one for a current that it does reach: each stage that is told has the current.
func TestRemediesHaveTheCurrent(t *testing.T) {
	starved, err := stage.Lookup("pair-1w")
	if err != nil {
		t.Fatal(err)
	}
	starved.Bias.FeedUpper, starved.Bias.FeedLower = 2e3, 2e3
	weak, err := stage.New(starved)
	if err != nil {
		t.Fatal(err)
	}
	_, hi, err := weak.QuiescentRange()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Choose(weak, 1.3*hi, DefaultOptions()); !errors.Is(err, ErrOutOfReach) {
		t.Fatalf("%g A, of %g: error %v", 1.3*hi, hi, err)
	}
	for _, row := range []struct {
		st      *stage.Stage
		amperes float64
		least   int
	}{{weak, 1.3 * hi, 1}, {look(t, "pair-12w"), 0.1, 4}, {look(t, "darlington-30w"), 0.06, 2}} {
		list, err := Remedies(row.st, row.amperes)
		if err != nil {
			t.Fatal(err)
		}
		if len(list) < row.least {
			t.Errorf("%s: %d remedies", row.st.Spec().Name, len(list))
		}
		for _, r := range list {
			if got, err := current(r.Spec); err != nil || math.Abs(got/row.amperes-1) > within || len(r.Changes) == 0 {
				t.Errorf("%s: %g A of %g, %v", r.What, got, row.amperes, err)
			}
			t.Logf("%s: %s: %.4g A cold, %.4g warm, loop gain %.2f, %d changes", row.st.Spec().Name, r.What, r.Cold, r.Warm, r.Feedback, len(r.Changes))
		}
	}
}
