package stage

import (
	"errors"
	"math"
	"sync"

	"quietcross/dsp/bracket"
	"quietcross/dsp/elementary"
)

// Where a bias stands is told by its quiescent current against the optimum one: that of
// the circuit's theory or, for a circuit without one, the current at which the gain at
// rest equals the full gain beyond the crossover. One tolerance divides optimum from
// under and over, and a drive beyond the setting's own clipping onset is told before
// all of that, for then clipping is what is heard.

// Condition says where a bias stands.
type Condition string

// The conditions.
const (
	Unbiased  Condition = "unbiased"     // no quiescent current to speak of
	Under     Condition = "under-biased" // less than the optimum
	AtOptimum Condition = "optimum"
	Over      Condition = "over-biased"  // more than the optimum
	Clipped   Condition = "clipped"      // the drive goes beyond the setting's own clipping onset
	NoOptimum Condition = "unclassified" // no optimum is known to stand against
)

const (
	// OptimumWithin is the ratio of quiescent currents, either way, within which a bias
	// counts as the optimum. Over that range the gain at rest of a pair at its optimum
	// changes by a twentieth of what the emitter resistances take from it.
	OptimumWithin = 1.1
	// UnbiasedUnder is the part of the optimum current under which a stage counts as
	// without bias.
	UnbiasedUnder = 1e-4
)

// Classify says where a quiescent current stands against the optimum one, both in
// amperes; 0 for an optimum that is not known.
func Classify(quiescent, optimum float64) Condition {
	ratio := quiescent / optimum
	switch {
	case !(optimum > 0) || !(ratio >= 0):
		return NoOptimum
	case ratio < UnbiasedUnder:
		return Unbiased
	case ratio < 1/OptimumWithin:
		return Under
	case ratio <= OptimumWithin:
		return AtOptimum
	}
	return Over
}

// Condition says where the bias stands, at a drive of peak volts at the input; 0 asks
// nothing of a drive. The error is that of finding the optimum of a circuit that has none
// by theory.
func (b *Biased) Condition(peak float64) (Condition, error) {
	if b.Clips(peak) {
		return Clipped, nil
	}
	optimum, err := b.stage.Optimum()
	return Classify(b.point.Quiescent, optimum), err
}

// Says returns what the circuit's people call a condition, such as "class A" for the
// optimum of a lone device.
func (s *Stage) Says(c Condition) string {
	if name, ok := s.kind.States[string(c)]; ok {
		return name
	}
	return string(c)
}

// Optimum returns the quiescent current that the condition of a bias is told by, in
// amperes: [Stage.OptimumQuiescent] or, where theory gives none, that of
// [Stage.GainEqualQuiescent]; 0 where there is neither.
func (s *Stage) Optimum() (float64, error) {
	if optimum := s.OptimumQuiescent(); optimum > 0 {
		return optimum, nil
	}
	return s.GainEqualQuiescent()
}

// equality is the current of equal gains, found when it is first asked for.
type equality struct {
	once    sync.Once
	amperes float64
	err     error
}

// GainEqualQuiescent returns the quiescent current, in amperes, of the stage's own parts
// trimmed cold, at which the gain at rest equals the full gain beyond the crossover
// ([Crossover]): under it the gain dips at the crossover, above it there is more
// of it at rest. For an ideal pair it is the optimum of theory; with the resistances
// inside the devices and the source's, it is not. It is 0 where the two are not equal at
// any current that the stage's ladder spans.
func (s *Stage) GainEqualQuiescent() (float64, error) {
	s.equal.once.Do(func() { s.equal.amperes, s.equal.err = s.cold().gainEqual(Quiescent) })
	return s.equal.amperes, s.equal.err
}

// The range that gainEqual looks in, re the reference of the ladder, and the number of
// places it looks at before it closes in.
const (
	equalFrom, equalTo = 1e-3, 10
	equalSteps         = 16
)

// gainEqual goes up from the least current to the first at which the gain at rest is no
// longer under the full gain. set makes the setting of a current.
func (s *Stage) gainEqual(set func(amperes float64) Setting) (float64, error) {
	lo, hi, err := s.QuiescentRange()
	if err != nil {
		return 0, err
	}
	reference := s.reference()
	from, to := elementary.Log(max(equalFrom*reference, 1.01*lo)), elementary.Log(min(equalTo*reference, 0.99*hi))
	excess := func(logarithm float64) (float64, error) { return s.restExcess(set(elementary.Exp(logarithm))) }
	last := math.NaN()
	for i := range equalSteps + 1 {
		at := from + (to-from)*float64(i)/equalSteps
		y, err := excess(at)
		if err != nil {
			return 0, err
		}
		if y < 0 {
			last = at
			continue
		}
		if math.IsNaN(last) {
			return 0, nil
		}
		root, err := bracket.Root(excess, last, at, 1e-6)
		if errors.Is(err, bracket.ErrSigns) {
			return 0, nil
		}
		return elementary.Exp(root), err
	}
	return 0, nil
}

// restExcess is by how much the gain at rest exceeds the full gain, of which it is a
// part.
func (s *Stage) restExcess(setting Setting) (float64, error) {
	b, err := s.Set(setting)
	if err != nil {
		return 0, err
	}
	c, err := b.Crossover()
	if err != nil {
		return 0, err
	}
	if c.Inside {
		if b, err = b.inside(); err != nil {
			return 0, err
		}
	}
	rest, err := b.gain(0)
	return rest/c.Full - 1, err
}
