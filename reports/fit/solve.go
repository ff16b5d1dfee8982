package fit

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// How far the model is trusted beside the recording's own uncertainty: a share of
// each line, and of the tones.
const (
	trustShare = 0.005
	trustFloor = 3e-6 // -110 dB
)

// misfit returns the differences of prediction and recording in units of their
// uncertainty, and their sum of squares; +Inf where the model has no answer.
func (m *model) misfit(theta []float64, all []Observation) ([]float64, float64, error) {
	predicted, err := m.predict(theta, all)
	if err != nil {
		return nil, math.Inf(1), err
	}
	var r []float64
	sum := 0.0
	for i, o := range all {
		for k, l := range o.Lines {
			d := (predicted[i][k] - l.Volts) / uncertainty(l, o)
			r = append(r, d)
			sum += d * d
		}
	}
	return r, sum, nil
}

func uncertainty(l Line, o Observation) float64 {
	return math.Hypot(l.Sigma, math.Hypot(trustShare*l.Volts, trustFloor*o.Total()))
}

// jacobian returns the derivatives of the misfit, by one-sided differences.
func (m *model) jacobian(theta, r []float64, all []Observation) (*mat.Dense, error) {
	j := mat.NewDense(len(r), len(theta), nil)
	for k, c := range m.coordinates {
		moved, step := c.nudge(theta, k)
		other, _, err := m.misfit(moved, all)
		if err != nil {
			return nil, err
		}
		for i := range other {
			j.Set(i, k, (other[i]-r[i])/step)
		}
	}
	return j, nil
}

// minimum is where a descent ended.
type minimum struct {
	theta []float64
	sum   float64
	// normal is the matrix JᵀJ there.
	normal *mat.SymDense
}

// descend runs Levenberg and Marquardt's method from theta.
func (m *model) descend(theta []float64, all []Observation) (minimum, error) {
	const rounds, still = 40, 1e-6
	r, sum, err := m.misfit(theta, all)
	if err != nil {
		return minimum{}, err
	}
	damping := 1e-2
	var normal *mat.SymDense
	for range rounds {
		j, err := m.jacobian(theta, r, all)
		if err != nil {
			return minimum{}, err
		}
		var gradient *mat.VecDense
		normal, gradient = normalEquations(j, r)
		next, nextR, nextSum := m.step(theta, normal, gradient, &damping, sum, all)
		if next == nil {
			break // nothing better however short the step
		}
		gained := sum - nextSum
		theta, r, sum = next, nextR, nextSum
		if gained < still*(1+sum) {
			break
		}
	}
	return minimum{theta: theta, sum: sum, normal: normal}, nil
}

func normalEquations(j *mat.Dense, r []float64) (*mat.SymDense, *mat.VecDense) {
	_, n := j.Dims()
	normal := mat.NewSymDense(n, nil)
	normal.SymOuterK(1, j.T())
	var gradient mat.VecDense
	gradient.MulVec(j.T(), mat.NewVecDense(len(r), r))
	return normal, &gradient
}

// step tries ever stronger damping until the sum falls; nil when it never does.
func (m *model) step(theta []float64, normal *mat.SymDense, gradient *mat.VecDense, damping *float64, sum float64, all []Observation) (next, r []float64, better float64) {
	for ; *damping < 1e8; *damping *= 5 {
		damped := mat.NewSymDense(len(theta), nil)
		damped.CopySym(normal)
		for k := range theta {
			damped.SetSym(k, k, normal.At(k, k)*(1+*damping)+1e-12)
		}
		var chol mat.Cholesky
		if !chol.Factorize(damped) {
			continue
		}
		var d mat.VecDense
		if err := chol.SolveVecTo(&d, gradient); err != nil {
			continue
		}
		next = make([]float64, len(theta))
		for k, c := range m.coordinates {
			next[k] = c.clamp(theta[k] - d.AtVec(k))
		}
		if r, better, err := m.misfit(next, all); err == nil && better < sum {
			*damping /= 10
			return next, r, better
		}
	}
	return nil, nil, sum
}
