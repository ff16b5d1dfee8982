package network

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// integrateStiff is integrate for equations with motions of less than a picosecond: the
// implicit Runge-Kutta method of Radau with two stages, of third order (E. Hairer and
// G. Wanner, Solving Ordinary Differential Equations II, section IV.5; its coefficients
// from memory), each step taken whole and in two halves.
func integrateStiff(f func(t float64, y, dy []float64), y0, scale, times []float64, tolerance float64) [][]float64 {
	r := radau{f: f, scale: scale, tolerance: tolerance}
	y, t, h := append([]float64(nil), y0...), 0.0, 1e-9
	out := make([][]float64, len(times))
	for i, end := range times {
		for t < end {
			step := min(h, end-t)
			next, worst := r.pair(t, step, y)
			if worst <= 1 {
				y = next
				if t += step; step == end-(t-step) {
					t = end
				}
			}
			grow := min(4, max(0.2, 0.9*math.Pow(max(worst, 1e-12), -0.25)))
			if step == h || grow < 1 {
				h = step * grow
			}
		}
		out[i] = append([]float64(nil), y...)
	}
	return out
}

type radau struct {
	f         func(t float64, y, dy []float64)
	scale     []float64
	tolerance float64
}

// pair takes a step in two halves and returns its end and how far one whole step is
// from it, 1 being the tolerance.
func (r *radau) pair(t, h float64, y []float64) (end []float64, worst float64) {
	whole, ok := r.step(t, h, y)
	if !ok {
		return nil, math.Inf(1)
	}
	half, ok := r.step(t, h/2, y)
	if !ok {
		return nil, math.Inf(1)
	}
	if end, ok = r.step(t+h/2, h/2, half); !ok {
		return nil, math.Inf(1)
	}
	for i := range end {
		worst = max(worst, math.Abs(end[i]-whole[i])/r.scale[i]/r.tolerance)
	}
	return end, worst
}

// step solves for both stages by Newton's method with the Jacobian of the beginning.
func (r *radau) step(t, h float64, y []float64) (end []float64, ok bool) {
	n := len(y)
	weights := [2][2]float64{{5.0 / 12, -1.0 / 12}, {3.0 / 4, 1.0 / 4}}
	var lu mat.LU
	lu.Factorize(r.matrix(t, h, y, weights))
	z := mat.NewVecDense(2*n, nil) // stages less y
	slope := [2][]float64{make([]float64, n), make([]float64, n)}
	at := make([]float64, n)
	for range 12 {
		for s, c := range [2]float64{1.0 / 3, 1} {
			for i := range at {
				at[i] = y[i] + z.AtVec(s*n+i)
			}
			r.f(t+c*h, at, slope[s])
		}
		rest := mat.NewVecDense(2*n, nil)
		for s, w := range weights {
			for i := range n {
				rest.SetVec(s*n+i, h*(w[0]*slope[0][i]+w[1]*slope[1][i])-z.AtVec(s*n+i))
			}
		}
		var move mat.VecDense
		if lu.SolveVecTo(&move, false, rest) != nil {
			return nil, false
		}
		z.AddVec(z, &move)
		worst := 0.0
		for i := range 2 * n {
			worst = max(worst, math.Abs(move.AtVec(i))/r.scale[i%n])
		}
		if worst < r.tolerance*1e-3 {
			for i := range at {
				at[i] = y[i] + z.AtVec(n+i)
			}
			return at, true
		}
	}
	return nil, false
}

// matrix is 1 - h (weights x Jacobian), the Jacobian by differences.
func (r *radau) matrix(t, h float64, y []float64, weights [2][2]float64) *mat.Dense {
	n := len(y)
	base, moved, at := make([]float64, n), make([]float64, n), append([]float64(nil), y...)
	r.f(t, y, base)
	m := mat.NewDense(2*n, 2*n, nil)
	for j := range n {
		d := 1e-7 * r.scale[j]
		at[j] = y[j] + d
		r.f(t, at, moved)
		at[j] = y[j]
		for i := range n {
			slope := (moved[i] - base[i]) / d
			for s, w := range weights {
				m.Set(s*n+i, j, -h*w[0]*slope)
				m.Set(s*n+i, n+j, -h*w[1]*slope)
			}
		}
	}
	for i := range 2 * n {
		m.Set(i, i, m.At(i, i)+1)
	}
	return m
}
