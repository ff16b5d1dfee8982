package stage

import (
	"errors"
	"math"
	"testing"
)

// TestTrial holds a trial to the setting itself, up and down each built-in stage's
// ladder in steps as a slider makes them: current within what is promised, transfer
// within 1e-6 of the output's peak at the drive.
func TestTrial(t *testing.T) {
	for _, named := range Builtin() {
		s := mustStage(t, named.Name, nil)
		lo, hi, err := s.QuiescentRange()
		if err != nil {
			t.Fatal(err)
		}
		before := mustSet(t, s, AsBuilt())
		worst, apart := 0.0, 0.0
		for i := range 9 {
			amperes := min(max(lo*1.05, before.Point().Quiescent*math.Pow(1.4, float64(i%5)-2)), hi*0.95)
			trial, err := s.Trial(Quiescent(amperes), before)
			if err != nil {
				t.Fatalf("%s: %v", named.Name, err)
			}
			set := mustSet(t, s, Quiescent(amperes))
			worst = max(worst, math.Abs(trial.Point().Quiescent/amperes-1))
			full, _, err := set.Transfer(set.Drive())
			if err != nil {
				t.Fatal(err)
			}
			for _, part := range []float64{-0.7, -0.01, 0, 0.03, 0.5} {
				x, _, err1 := trial.Transfer(part * set.Drive())
				y, _, err2 := set.Transfer(part * set.Drive())
				if err := errors.Join(err1, err2); err != nil {
					t.Fatal(err)
				}
				apart = max(apart, math.Abs((x-y)/full))
			}
			before = trial
		}
		t.Logf("%s: current within %.1e, transfer within %.1e of the peak", named.Name, worst, apart)
		if worst > 1e-5 || apart > 1e-6 {
			t.Errorf("%s: current within %.1e, transfer within %.1e of the peak", named.Name, worst, apart)
		}
	}
}

// TestTrialIsSet: without one before, of another stage, and where nothing is to be found,
// a trial is the setting itself, its refusals included.
func TestTrialIsSet(t *testing.T) {
	s, other := mustStage(t, "pair-12w", nil), mustStage(t, "pair-12w", nil)
	for _, before := range []*Biased{nil, mustSet(t, other, Bias(1))} {
		trial, err := s.Trial(Quiescent(0.01), before)
		if err != nil {
			t.Fatal(err)
		}
		if set := mustSet(t, s, Quiescent(0.01)); trial.clipping != set.clipping || trial.Point().Quiescent != set.Point().Quiescent {
			t.Errorf("%v, set %v", trial.Point(), set.Point())
		}
	}
	before := mustSet(t, s, AsBuilt())
	for _, impossible := range []Setting{Quiescent(1e6), Quiescent(-1), Bias(-1), Bias(math.NaN())} {
		_, set := s.Set(impossible)
		if _, err := s.Trial(impossible, before); err == nil || err.Error() != set.Error() {
			t.Errorf("%s: %v, set says %v", impossible, err, set)
		}
	}
}
