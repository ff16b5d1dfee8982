package fit

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"

	"quietcross/stage"
	"quietcross/stage/circuits"
)

// Options say what is free.
type Options struct {
	// Spec is the stage file to start from; its circuit and every value that is
	// not free are taken as true.
	Spec stage.Spec
	// Free are keys of part values that are fitted beside the bias, such as
	// load.resistance; nil stands for those of [DefaultFree] that the circuit has.
	Free []string
}

// DefaultFree are the part values that shape crossover most, beside the bias: the
// emitter resistors, and the inequality of the two devices.
var DefaultFree = []string{"emitter.resistance", "upper.saturation_current"}

// Run fits the stage to the observations. It returns an error when the stage file
// is not legal, a key is unknown or cannot be fitted, the observations hold fewer
// lines than there are free values, or no bias explains them at all.
func Run(ctx context.Context, all []Observation, o Options) (*Result, error) {
	m, maximum, err := o.model()
	if err != nil {
		return nil, err
	}
	if n := countLines(all); n < len(m.coordinates) {
		return nil, fmt.Errorf("fit: %d harmonics and products cannot fix %d values", n, len(m.coordinates))
	}
	starts, err := m.survey(ctx, all, maximum)
	if err != nil {
		return nil, err
	}
	var minima []minimum
	var failure error
	for _, s := range starts {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		found, err := m.descend(s.theta, all)
		if err != nil {
			failure = err
			continue
		}
		minima = append(minima, found)
	}
	if len(minima) == 0 {
		return nil, failure
	}
	slices.SortFunc(minima, func(a, b minimum) int { return cmp.Compare(a.sum, b.sum) })
	return m.result(minima, all)
}

// model frees the values and returns the maximum bias to survey.
func (o Options) model() (*model, float64, error) {
	st, err := stage.New(o.Spec)
	if err != nil {
		return nil, 0, err
	}
	kind, err := circuits.Lookup(o.Spec.Circuit)
	if err != nil {
		return nil, 0, err
	}
	keys := o.Free
	if keys == nil {
		keys = usable(o.Spec, DefaultFree)
	}
	m, err := newModel(o.Spec, keys, kind.MaximumBias)
	if err != nil {
		return nil, 0, err
	}
	maximum, err := surveyTop(st)
	return m, maximum, err
}

// usable returns the keys that the stage's circuit has, with a value above 0.
func usable(spec stage.Spec, keys []string) []string {
	var found []string
	for _, key := range keys {
		field, err := partField(&spec, key)
		if err != nil {
			continue
		}
		if v, ok := field.Value.(*float64); ok && *v > 0 {
			found = append(found, key)
		}
	}
	return found
}

// surveyTop returns the bias that gives some ten times the maximum current of the
// stage's own ladder, or what it can reach.
func surveyTop(st *stage.Stage) (float64, error) {
	ladder, err := st.DefaultLadder()
	if err != nil {
		return 0, err
	}
	_, high, err := st.HeldRange()
	if err != nil {
		return 0, err
	}
	for current := min(10*ladder[len(ladder)-1].Value(), 0.9*high); current > 0; current /= 2 {
		b, err := st.Set(stage.Held(current))
		if err == nil {
			return b.Point().Bias, nil
		}
		if current < ladder[1].Value() {
			return 0, err
		}
	}
	return 0, errors.New("fit: the stage takes no quiescent current")
}

func countLines(all []Observation) int {
	n := 0
	for _, o := range all {
		n += len(o.Lines)
	}
	return n
}

// survey looks at biases from 0 to maximum, all else as in the stage file, and
// returns the best places to descend from: the lowest dips of the misfit.
func (m *model) survey(ctx context.Context, all []Observation, maximum float64) ([]minimum, error) {
	const places, best = 60, 4
	var seen []minimum
	failure := errors.New("fit: no bias explains the recording")
	for i := range places + 1 {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		theta := m.start(maximum * float64(i) / places)
		_, sum, err := m.misfit(theta, all)
		if err != nil {
			failure = err
		}
		seen = append(seen, minimum{theta: theta, sum: sum})
	}
	var dips []minimum
	for i, s := range seen {
		lower := (i == 0 || s.sum <= seen[i-1].sum) && (i == places || s.sum <= seen[i+1].sum)
		if lower && !math.IsInf(s.sum, 1) {
			dips = append(dips, s)
		}
	}
	if len(dips) == 0 {
		return nil, failure
	}
	slices.SortFunc(dips, func(a, b minimum) int { return cmp.Compare(a.sum, b.sum) })
	return dips[:min(best, len(dips))], nil
}
