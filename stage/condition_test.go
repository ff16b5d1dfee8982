package stage

import (
	"math"
	"slices"
	"testing"

	"quietcross/stage/circuits"
	"quietcross/stage/device"
)

// TestConditionEdges looks at a bias on each side of each edge.
func TestConditionEdges(t *testing.T) {
	const optimum, hair = 0.062, 1e-9
	for _, row := range []struct {
		ratio float64
		want  Condition
	}{
		{0, Unbiased},
		{1e-4 - hair, Unbiased},
		{1e-4 + hair, Under},
		{1/1.1 - hair, Under},
		{1/1.1 + hair, AtOptimum},
		{1.06, AtOptimum},
		{1.1 - hair, AtOptimum},
		{1.1 + hair, Over},
		{math.Inf(1), Over},
	} {
		if got := Classify(row.ratio*optimum, optimum); got != row.want {
			t.Errorf("%g times the optimum: %s, want %s", row.ratio, got, row.want)
		}
	}
	if got := Classify(0.1, 0); got != NoOptimum {
		t.Errorf("without an optimum: %s", got)
	}
	if got := Classify(math.NaN(), 1); got != NoOptimum {
		t.Errorf("without a current: %s", got)
	}
}

// TestConditionsOfStages checks conditions of settings, on each side of the setting's own
// clipping onset too, and what they are called.
func TestConditionsOfStages(t *testing.T) {
	for _, row := range []struct {
		name  string
		ratio float64
		want  Condition
		says  string
	}{
		{"pair-12w", 0.5, Under, "under-biased"},
		{"pair-12w", 1, AtOptimum, "optimum"},
		{"pair-12w", 2, Over, "over-biased"},
		{"single-class-a", 1, AtOptimum, "class A"},
		{"single-class-a", 0.5, Under, "below class A"},
		{"feedback-pair-30w", 1, Over, "over-biased"}, // the reference is a twentieth of the peak current
	} {
		s := mustStage(t, row.name, nil)
		b := mustSet(t, s, Quiescent(row.ratio*s.reference()))
		lo, hi := b.Clip()
		onset := min(-lo, hi)
		for _, peak := range []float64{0, onset} {
			got, err := b.Condition(peak)
			if err != nil || got != row.want || s.Says(got) != row.says {
				t.Errorf("%s at %g times its reference and %g V: %s (%s), %v", row.name, row.ratio, peak, got, s.Says(got), err)
			}
		}
		if got, err := b.Condition(onset * (1 + 1e-9)); err != nil || got != Clipped {
			t.Errorf("%s beyond its clipping onset: %s, %v", row.name, got, err)
		}
	}
}

// TestGainEqualQuiescent checks the current of equal gains: for an ideal pair under a held
// bias the output resistance at rest, (VT/IQ + RE)/2, is to equal that at the end of the
// swing, RE + VT/i (B. M. Oliver, Hewlett-Packard Journal, February 1971), so that
// IQ = VT/(RE + 2 VT/i); and for built-in pairs with their own parts the gain at rest is
// that beyond the crossover, under it less and over it more.
func TestGainEqualQuiescent(t *testing.T) {
	s := mustStage(t, "pair-60w", ideal)
	got, err := s.gainEqual(Held)
	if err != nil {
		t.Fatal(err)
	}
	spec := s.Spec()
	vt := device.ThermalVoltage(spec.Thermal.Ambient)
	peak := spec.Supply.Positive / (spec.Load.Ohms + spec.Emitter.Ohms)
	relative(t, "ideal pair", got, vt/(spec.Emitter.Ohms+2*vt/peak), 0.01)

	for _, name := range []string{"pair-12w", "pair-12w-feedback", "pair-12w-multiplier", "darlington-30w", "feedback-pair-30w", "fet-30w"} {
		s := mustStage(t, name, nil)
		iq, err := s.GainEqualQuiescent()
		if err != nil || iq == 0 {
			t.Errorf("%s: %g A, %v", name, iq, err)
			continue
		}
		t.Logf("%s: gains equal at %.4g A, theory's optimum %.4g A", name, iq, s.OptimumQuiescent())
		for _, ratio := range []float64{0.8, 1, 1.25} {
			excess, err := s.restExcess(Quiescent(ratio * iq))
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(excess) > 1e-5 && (excess > 0) != (ratio > 1) {
				t.Errorf("%s at %g times: excess %g", name, ratio, excess)
			}
		}
	}
}

// TestStatesAreConditions holds what the circuits call the states of a bias against the
// conditions that there are.
func TestStatesAreConditions(t *testing.T) {
	conditions := []Condition{Unbiased, Under, AtOptimum, Over, Clipped, NoOptimum}
	for _, k := range circuits.Kinds() {
		for state, words := range k.States {
			if !slices.Contains(conditions, Condition(state)) || words == "" {
				t.Errorf("%s calls %q %q, which is no condition", k.Name, state, words)
			}
		}
	}
}
