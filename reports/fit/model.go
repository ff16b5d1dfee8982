package fit

import (
	"fmt"
	"math"
	"slices"

	"quietcross/dsp/shape"
	"quietcross/stage"
	"quietcross/stage/circuits"
	"quietcross/stage/quantity"
)

// coordinate is one free value of the model.
type coordinate struct {
	key  string
	unit quantity.Unit
	// logarithmic values move by ratio; the bias moves by volts.
	logarithmic bool
	low, high   float64 // legal range
	scale       float64 // a step that is small but felt: volts, or a ratio less 1
}

// biasKey names the bias among the parameters; quiescentKey what follows from it.
const (
	biasKey      = "bias"
	quiescentKey = "quiescent"
)

// model is a stage with free values.
type model struct {
	spec        stage.Spec
	coordinates []coordinate
}

// newModel frees the bias and the named part values, such as emitter.resistance.
func newModel(spec stage.Spec, keys []string, maximumBias float64) (*model, error) {
	m := &model{spec: spec}
	m.coordinates = append(m.coordinates, coordinate{key: biasKey, unit: quantity.Volt, low: 0, high: maximumBias, scale: 1e-4})
	for _, key := range keys {
		field, err := partField(&m.spec, key)
		if err != nil {
			return nil, err
		}
		value, ok := field.Value.(*float64)
		if !ok || !(*value > 0) {
			return nil, fmt.Errorf("fit: %s cannot be fitted: it is not a value above 0", key)
		}
		m.coordinates = append(m.coordinates, coordinate{key: key, unit: field.Range.Unit, logarithmic: true, low: field.Range.Min, high: field.Range.Max, scale: 1e-3})
	}
	return m, nil
}

// partField returns the field of a key of the stage file, such as load.resistance.
func partField(spec *stage.Spec, key string) (circuits.Field, error) {
	kind, err := circuits.Lookup(spec.Circuit)
	if err != nil {
		return circuits.Field{}, err
	}
	for _, g := range kind.Groups(&spec.Parts) {
		if g.Absent() {
			continue
		}
		for _, f := range g.Fields {
			if g.Name+"."+f.Key == key {
				return f, nil
			}
		}
	}
	return circuits.Field{}, fmt.Errorf("fit: a %s has no %q", spec.Circuit, key)
}

// start returns the values of the stage file, with the bias at volts.
func (m *model) start(volts float64) []float64 {
	theta := []float64{volts}
	for _, c := range m.coordinates[1:] {
		field, err := partField(&m.spec, c.key)
		if err != nil {
			panic("fit: " + err.Error()) // newModel found it
		}
		theta = append(theta, math.Log(*field.Value.(*float64)))
	}
	return theta
}

// value returns a coordinate's value in its own unit.
func (c coordinate) value(x float64) float64 {
	if c.logarithmic {
		return math.Exp(x)
	}
	return x
}

// clamp keeps a coordinate within its legal range.
func (c coordinate) clamp(x float64) float64 {
	if c.logarithmic {
		return min(max(x, math.Log(c.low)), math.Log(c.high))
	}
	return min(max(x, c.low), c.high)
}

// nudge returns theta with this coordinate, the k-th, moved by a small step that
// stays in its range, and the step.
func (c coordinate) nudge(theta []float64, k int) ([]float64, float64) {
	step := c.scale
	if c.clamp(theta[k]+step) != theta[k]+step {
		step = -step
	}
	moved := slices.Clone(theta)
	moved[k] += step
	return moved, step
}

// at returns the stage file with the given values, and its bias.
func (m *model) at(theta []float64) (stage.Spec, float64, error) {
	spec := m.spec
	for i, c := range m.coordinates[1:] {
		field, err := partField(&spec, c.key)
		if err != nil {
			return spec, 0, err
		}
		// The exponential of a bound's logarithm may lie just beyond the bound.
		*field.Value.(*float64) = min(max(c.value(theta[i+1]), c.low), c.high)
	}
	return spec, theta[0], nil
}

// biased sets the stage up.
func (m *model) biased(theta []float64) (*stage.Biased, error) {
	spec, volts, err := m.at(theta)
	if err != nil {
		return nil, err
	}
	st, err := stage.New(spec)
	if err != nil {
		return nil, err
	}
	return st.Set(stage.Bias(volts))
}

// predict returns the lines that the model makes of every observation, volts,
// in the observations' order.
func (m *model) predict(theta []float64, all []Observation) ([][]float64, error) {
	b, err := m.biased(theta)
	if err != nil {
		return nil, err
	}
	low, high := b.Clip()
	reach := 1.2 * max(high, -low)
	law, err := shape.Fit(b.Transfer, -reach, reach, 1e-9*reach)
	if err != nil {
		return nil, err
	}
	one, two := series{law: law, reach: reach}, pairSeries{law: law, reach: reach}
	predicted := make([][]float64, len(all))
	for i, o := range all {
		if len(o.Amplitudes) == 2 {
			predicted[i], err = two.reaching(o)
		} else {
			predicted[i], err = one.reaching(o)
		}
		if err != nil {
			return nil, err
		}
	}
	return predicted, nil
}
