package fit

import (
	"math"

	"gonum.org/v1/gonum/mat"

	"quietcross/stage"
	"quietcross/stage/quantity"
)

// Result is the fitted stage and what is known of it.
type Result struct {
	// Spec is the stage file with the fitted part values; Bias belongs to it.
	Spec stage.Spec `json:"-"`
	Bias float64    `json:"bias_v"`
	// Parameters are the bias, the quiescent current that follows, and the parts.
	Parameters   []Parameter   `json:"parameters"`
	Observations []Observation `json:"observations"`
	// Misfit is the root mean square difference in units of the uncertainty: near 1
	// or less where the model explains the recording.
	Misfit float64 `json:"misfit"`
	// Suggestion is the key of a value that, were it free too, would explain most of
	// what the model leaves; empty when the fit is good or no value would.
	Suggestion string `json:"suggestion,omitempty"`
	// Statements say in plain words what was found and what the recording cannot
	// tell.
	Statements []string `json:"statements"`
}

// Parameter is one fitted value with its interval.
type Parameter struct {
	Key        string        `json:"key"`
	Value      float64       `json:"value"`
	Unit       quantity.Unit `json:"unit"` // an SI base unit
	Low        float64       `json:"low"`  // 95 % interval
	High       float64       `json:"high"`
	Identified bool          `json:"identified"` // the recording fixes it
}

// Parameter returns the parameter of a key, false when there is none.
func (r *Result) Parameter(key string) (Parameter, bool) {
	for _, p := range r.Parameters {
		if p.Key == key {
			return p, true
		}
	}
	return Parameter{}, false
}

// What counts as fixed by the recording: half of a 95 % interval, as a ratio less
// 1, and correlations beyond which two values are one.
const (
	fixedWithin = 0.3
	oneFrom     = 0.98
	normal95    = 1.96
	// explained is the maximum misfit with which a model counts as explaining the
	// recording; beyond it no interval can be trusted.
	explained = 3
	// rivalSum is how much worse another minimum may be and still be an answer.
	rivalSum = 9
)

func (m *model) result(minima []minimum, all []Observation) (*Result, error) {
	best := minima[0]
	spec, volts, err := m.at(best.theta)
	if err != nil {
		return nil, err
	}
	r := &Result{Spec: spec, Bias: volts, Observations: all}
	degrees := float64(countLines(all) - len(best.theta))
	r.Misfit = math.Sqrt(best.sum / max(1, degrees))
	covariance := best.covariance(max(1, r.Misfit*r.Misfit))
	if err := r.fill(m, best.theta, covariance); err != nil {
		return nil, err
	}
	predicted, err := m.predict(best.theta, all)
	if err != nil {
		return nil, err
	}
	for i := range all {
		for k := range all[i].Lines {
			all[i].Lines[k].Model = predicted[i][k]
		}
	}
	r.rivals(m, minima)
	if r.Misfit > explained {
		for i := range r.Parameters {
			r.Parameters[i].Identified = false
		}
	}
	if r.Misfit > suspicious {
		r.Suggestion = m.suggest(best.theta, all)
	}
	r.state(m, covariance)
	return r, nil
}

// covariance returns the inverse of the normal matrix times scale, nil when the
// data leave a direction open.
func (b minimum) covariance(scale float64) *mat.SymDense {
	if b.normal == nil {
		return nil
	}
	var chol mat.Cholesky
	if !chol.Factorize(b.normal) || chol.Cond() > 1e14 {
		return nil
	}
	var inverse mat.SymDense
	if err := chol.InverseTo(&inverse); err != nil {
		return nil
	}
	inverse.ScaleSym(scale, &inverse)
	return &inverse
}

// fill adds the parameters with their intervals.
func (r *Result) fill(m *model, theta []float64, covariance *mat.SymDense) error {
	sigma := func(k int) float64 {
		if covariance == nil {
			return math.Inf(1)
		}
		return math.Sqrt(covariance.At(k, k))
	}
	quiescent, spread, err := m.quiescent(theta, covariance)
	if err != nil {
		return err
	}
	half := normal95 * sigma(0)
	r.Parameters = []Parameter{
		{
			Key: biasKey, Value: theta[0], Unit: quantity.Volt, Low: max(0, theta[0]-half), High: theta[0] + half,
			Identified: half < 0.1,
		},
		ratioParameter(quiescentKey, quantity.Ampere, quiescent, spread),
	}
	for k, c := range m.coordinates[1:] {
		r.Parameters = append(r.Parameters, ratioParameter(c.key, c.unit, c.value(theta[k+1]), sigma(k+1)))
	}
	return nil
}

// ratioParameter is a value whose logarithm has a standard uncertainty.
func ratioParameter(key string, unit quantity.Unit, value, sigma float64) Parameter {
	ratio := math.Exp(min(normal95*sigma, 100))
	return Parameter{Key: key, Value: value, Unit: unit, Low: value / ratio, High: value * ratio, Identified: ratio-1 < fixedWithin}
}

// quiescent returns the current that the values give, and the standard uncertainty
// of its logarithm from all of them together.
func (m *model) quiescent(theta []float64, covariance *mat.SymDense) (current, sigma float64, err error) {
	b, err := m.biased(theta)
	if err != nil {
		return 0, 0, err
	}
	current = b.Point().Quiescent
	if covariance == nil || !(current > 0) {
		return current, math.Inf(1), nil
	}
	gradient := mat.NewVecDense(len(theta), nil)
	for k, c := range m.coordinates {
		moved, step := c.nudge(theta, k)
		other, err := m.biased(moved)
		if err != nil {
			return 0, 0, err
		}
		gradient.SetVec(k, math.Log(other.Point().Quiescent/current)/step)
	}
	return current, math.Sqrt(mat.Inner(gradient, covariance, gradient)), nil
}
