package align

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"

	"quietcross/dsp/level"
)

// responseWork bounds how many products one pass over the signal takes: the
// response is estimated from the loudest stretch of that many samples over taps.
const responseWork = 1 << 27

// explain fits a filter of taps between the aligned reference and the capture and
// sets Response and NonlinearResidual. A response that explains nothing, as for a
// signal too narrow in frequency to tell one, is left out with a warning. The normal matrix is approximated by the
// reference's autocorrelation, which makes it Toeplitz; refining over the residual
// then removes the approximation, and with it the effect of the ends.
func (r *Result) explain(taps int) error {
	half := taps / 2
	if len(r.Aligned) < 8*taps {
		return errors.New("align: too few samples for the linear response")
	}
	mean := level.Mean(r.Aligned)
	x := make([]float64, len(r.Aligned))
	for i, v := range r.Aligned {
		x[i] = v - mean
	}
	from, to := 0, len(x)
	if n := responseWork / taps; n < len(x) {
		from = loudest(x, n)
		to = from + n
	}
	solve, err := toeplitz(x[from:to], taps)
	if err != nil {
		return err
	}
	const rounds = 5
	h := make([]float64, taps)
	rest := append([]float64(nil), r.Residual[from+half:to-half]...)
	for range rounds {
		for k, d := range solve(rest, x[from:to]) {
			h[k] += d
		}
		copy(rest, r.Residual[from+half:to-half])
		subtract(rest, x[from:to], h)
	}
	left := append([]float64(nil), r.Residual[half:len(x)-half]...)
	subtract(left, x, h)
	if !(rmsAC(left) <= rmsAC(r.Residual)) {
		r.Warnings = append(r.Warnings, "no linear response could be found that explains anything: the signal is too narrow in frequency")
		return nil
	}
	h[half]++ // the gain that was already taken out
	r.Response, r.NonlinearResidual = h, left
	return nil
}

// subtract takes Σ h[k] x[i+2·half-k] off rest[i].
func subtract(rest, x, h []float64) {
	last := len(h) - 1
	for i := range rest {
		window := x[i : i+last+1]
		sum := 0.0
		for k, c := range h {
			sum += c * window[last-k]
		}
		rest[i] -= sum
	}
}

// toeplitz returns a function that solves the normal equations of a filter of
// taps on x, for a residual that starts half a filter into x.
func toeplitz(x []float64, taps int) (func(rest, x []float64) []float64, error) {
	lags := make([]float64, taps)
	for k := range lags {
		for i := k; i < len(x); i++ {
			lags[k] += x[i] * x[i-k]
		}
	}
	// A trace of white signal keeps directions without energy from dividing by
	// nothing; the refinement undoes it where there is energy.
	const trace = 1e-9
	lags[0] *= 1 + trace
	m := mat.NewSymDense(taps, nil)
	for i := range taps {
		for j := i; j < taps; j++ {
			m.SetSym(i, j, lags[j-i])
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(m) {
		return nil, errors.New("align: the reference is too narrow in frequency for a linear response")
	}
	return func(rest, x []float64) []float64 {
		right := mat.NewVecDense(taps, nil)
		for k := range taps {
			sum := 0.0
			shifted := x[taps-1-k:]
			for i, v := range rest {
				sum += v * shifted[i]
			}
			right.SetVec(k, sum)
		}
		var d mat.VecDense
		if err := chol.SolveVecTo(&d, right); err != nil && math.IsNaN(d.AtVec(0)) {
			return make([]float64, taps)
		}
		return d.RawVector().Data
	}, nil
}
