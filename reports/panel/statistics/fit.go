package statistics

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/optimize"
)

// Point is the count of right answers at one stimulus level.
type Point struct {
	Level float64
	Count
}

// Model says what is fitted and what is fixed.
type Model struct {
	Shape    Shape
	Guess    float64 // fixed by the form of the trial
	MaxLapse float64 // the lapse rate is fitted in [0, MaxLapse]; 0 fixes it at 0
}

// Fit is a maximum-likelihood psychometric function.
type Fit struct {
	Curve
	Model         Model
	Points        []Point // the data, levels ascending and distinct
	LogLikelihood float64 // of the counts, without the binomial coefficients
	Deviance      float64 // twice the distance from the saturated model
	Warnings      []string

	box box
}

// ErrFlat is wrapped by the error of [Model.Fit] when the data hold fewer than
// two distinct levels.
var ErrFlat = errors.New("statistics: a fit needs answers at two levels or more")

// Fit maximises the likelihood of the points over location, scale and lapse
// rate. Points at one level are merged and points without trials dropped. The
// search is bounded: the location to the range of the levels widened by its own
// width on each side, the scale to between 1/1000 and 10 times that width. A fit
// that ends on such a bound carries a warning, because the data then do not
// determine that parameter. It returns an error when the model is illegal
// (Guess or MaxLapse outside [0, 1), their sum 1 or more), a count is
// impossible, a level is not finite, or fewer than two levels have trials.
func (m Model) Fit(points []Point) (Fit, error) {
	if !(m.Guess >= 0 && m.MaxLapse >= 0 && m.Guess+m.MaxLapse < 1) {
		return Fit{}, fmt.Errorf("statistics: guess rate %g and maximum lapse rate %g must be non-negative and sum to less than 1", m.Guess, m.MaxLapse)
	}
	merged, err := merge(points)
	if err != nil {
		return Fit{}, err
	}
	f := Fit{Model: m, Points: merged, box: newBox(merged, m.MaxLapse)}
	best := f.search(free)
	f.Curve = f.curve(best.at)
	f.LogLikelihood = -best.loss
	f.Deviance = f.deviance()
	f.Warnings = f.box.warnings(best.at)
	return f, nil
}

// parameters are location, log scale and lapse rate.
type parameters [3]float64

func (f *Fit) curve(p parameters) Curve {
	return Curve{Shape: f.Model.Shape, Location: p[0], Scale: math.Exp(p[1]), Guess: f.Model.Guess, Lapse: p[2]}
}

// loss is the negative log likelihood and its gradient.
func (f *Fit) loss(p parameters) (loss float64, gradient parameters) {
	c := f.curve(p)
	span := 1 - c.Guess - c.Lapse
	for _, pt := range f.Points {
		z := (pt.Level - c.Location) / c.Scale
		shape, slope := c.Shape.At(z)
		psi := min(max(c.Guess+span*shape, 1e-12), 1-1e-12)
		right, wrong := float64(pt.Right), float64(pt.Trials-pt.Right)
		loss -= right*math.Log(psi) + wrong*math.Log1p(-psi)
		d := wrong/(1-psi) - right/psi
		gradient[0] -= d * span * slope / c.Scale
		gradient[1] -= d * span * slope * z
		gradient[2] -= d * shape
	}
	return loss, gradient
}

// deviance is twice the log likelihood ratio against the saturated model.
func (f *Fit) deviance() float64 {
	d := 0.0
	for _, pt := range f.Points {
		n, k, psi := float64(pt.Trials), float64(pt.Right), f.At(pt.Level)
		d += 2 * (xlogy(k, k/(n*psi)) + xlogy(n-k, (n-k)/(n*(1-psi))))
	}
	return d
}

func xlogy(x, y float64) float64 {
	if x == 0 {
		return 0
	}
	return x * math.Log(y)
}

// optimum is a point of minimum loss.
type optimum struct {
	at   parameters
	loss float64
}

// free holds no parameter fixed; see [Fit.search].
var free = parameters{math.NaN(), math.NaN(), math.NaN()}

// search minimises the loss over the parameters that are NaN in fixed, holding
// the others, from several starts.
func (f *Fit) search(fixed parameters) optimum {
	best := optimum{loss: math.Inf(1)}
	for _, start := range f.box.starts() {
		if got := f.descend(start, fixed); got.loss < best.loss {
			best = got
		}
	}
	return best
}

// descend runs one quasi-Newton search in the unbounded coordinates of the box.
func (f *Fit) descend(start, fixed parameters) optimum {
	var index []int
	for i := range fixed {
		if !math.IsNaN(fixed[i]) {
			start[i] = fixed[i]
		} else if f.box.hi[i] > f.box.lo[i] {
			index = append(index, i)
		}
	}
	at := func(u []float64) parameters {
		p := start
		for j, i := range index {
			p[i] = f.box.inside(i, u[j])
		}
		return p
	}
	// The search asks for loss and gradient of one place by two calls.
	var last optimum
	var slope parameters
	known := false
	here := func(u []float64) optimum {
		if p := at(u); !known || p != last.at {
			last.at, known = p, true
			last.loss, slope = f.loss(p)
		}
		return last
	}
	u := make([]float64, len(index))
	for j, i := range index {
		u[j] = f.box.outside(i, start[i])
	}
	if len(index) == 0 {
		return here(u)
	}
	problem := optimize.Problem{
		Func: func(u []float64) float64 { return here(u).loss },
		Grad: func(grad, u []float64) {
			here(u)
			for j, i := range index {
				grad[j] = slope[i] * f.box.rate(i, u[j])
			}
		},
	}
	settings := &optimize.Settings{
		GradientThreshold: 1e-9, MajorIterations: 200,
		Converger: &optimize.FunctionConverge{Absolute: 1e-13, Iterations: 5},
	}
	result, err := optimize.Minimize(problem, u, settings, &optimize.BFGS{})
	if err != nil && result == nil {
		return here(u)
	}
	return here(result.X)
}
