package network

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// This file is the slow and obvious side of the transient tests: an adaptive
// explicit Runge-Kutta method (J. R. Dormand and P. J. Prince, Journal of
// Computational and Applied Mathematics 6:19, 1980) on circuit equations written
// out by hand. It uses nothing of this package.

// integrate returns the state at each of the given rising times, from y0 at time
// zero, with a local error of tolerance per step in every component's own scale.
func integrate(f func(t float64, y, dy []float64), y0, scale, times []float64, tolerance float64) [][]float64 {
	r := rungeKutta{f: f, scale: scale, y: append([]float64(nil), y0...), h: 1e-9}
	for i := range r.k {
		r.k[i] = make([]float64, len(y0))
	}
	r.next, r.work = make([]float64, len(y0)), make([]float64, len(y0))
	out := make([][]float64, len(times))
	for i, end := range times {
		for r.t < end {
			r.advance(end, tolerance)
		}
		out[i] = append([]float64(nil), r.y...)
	}
	return out
}

type rungeKutta struct {
	f          func(t float64, y, dy []float64)
	t, h       float64
	y, scale   []float64
	next, work []float64
	k          [7][]float64
}

// The coefficients of the method.
var (
	nodes  = [7]float64{0, 1.0 / 5, 3.0 / 10, 4.0 / 5, 8.0 / 9, 1, 1}
	stages = [7][6]float64{
		{},
		{1.0 / 5},
		{3.0 / 40, 9.0 / 40},
		{44.0 / 45, -56.0 / 15, 32.0 / 9},
		{19372.0 / 6561, -25360.0 / 2187, 64448.0 / 6561, -212.0 / 729},
		{9017.0 / 3168, -355.0 / 33, 46732.0 / 5247, 49.0 / 176, -5103.0 / 18656},
		{35.0 / 384, 0, 500.0 / 1113, 125.0 / 192, -2187.0 / 6784, 11.0 / 84},
	}
	difference = [7]float64{
		71.0 / 57600, 0, -71.0 / 16695, 71.0 / 1920, -17253.0 / 339200, 22.0 / 525, -1.0 / 40,
	}
)

// advance tries one step, at most to end, and sets the size of the next.
func (r *rungeKutta) advance(end, tolerance float64) {
	h := min(r.h, end-r.t)
	for s := range stages {
		for i := range r.work {
			sum := 0.0
			for j := range s {
				sum += stages[s][j] * r.k[j][i]
			}
			r.work[i] = r.y[i] + h*sum
		}
		r.f(r.t+nodes[s]*h, r.work, r.k[s])
	}
	copy(r.next, r.work)
	worst := 0.0
	for i := range r.y {
		e := 0.0
		for s, d := range difference {
			e += d * r.k[s][i]
		}
		worst = max(worst, math.Abs(h*e)/r.scale[i])
	}
	if worst <= tolerance {
		r.t += h
		if h == end-(r.t-h) {
			r.t = end
		}
		copy(r.y, r.next)
	}
	grow := 0.9 * math.Pow(tolerance/max(worst, 1e-300), 0.2)
	if h == r.h || grow < 1 {
		r.h = h * min(4, max(0.2, grow))
	}
}

// handPair is the ideal complementary pair with emitter resistors, by its own
// equations: devices of saturation current is and thermal voltage vt, half the
// bias on each side.
type handPair struct{ is, vt, re, bias float64 }

// branch returns the emitter current that flows where a voltage v stands across
// a junction and its resistor: v = i re + vt ln(i/is + 1). It is Newton's method in
// y = ln(i/is + 1) from above, where the equation is convex and cannot overshoot. What is
// left after a step is under half its square, the second derivative being under the first.
func (p handPair) branch(v float64) float64 {
	if v <= 0 {
		// The resistor takes nothing of a blocking junction's voltage.
		return p.is * math.Expm1(v/p.vt)
	}
	y := min(v/p.vt, math.Log1p(v/(p.re*p.is)))
	for range 100 {
		e := math.Exp(y)
		step := (p.re*p.is*(e-1) + p.vt*y - v) / (p.re*p.is*e + p.vt)
		y -= step
		if step*step < 1e-15*max(1, y) {
			break
		}
	}
	return p.is * math.Expm1(y)
}

// output solves for the output voltage where the pair delivers a load's current,
// current(in, out) = load(out), by Newton's method inside a bracket. The load must
// not fall as the output rises. It begins where one device alone would carry what the load
// takes at the input's voltage. What is left after a step is under its square over twice the
// thermal voltage.
func (p handPair) output(in float64, load func(out float64) float64) float64 {
	lo, hi := in-60, in+60
	const h = 1e-6
	slope := (load(in+h) - load(in-h)) / (2 * h)
	i := load(in)
	alone := math.Abs(i)*p.re + p.vt*math.Log1p(math.Abs(i)/p.is)
	x := in - math.Copysign(max(0, alone-p.bias/2), i)
	for range 200 {
		up, down := p.branch(in+p.bias/2-x), p.branch(x-in+p.bias/2)
		f := up - down - load(x)
		if f > 0 {
			lo = x
		} else {
			hi = x
		}
		g := 1/(p.re+p.vt/(up+p.is)) + 1/(p.re+p.vt/(down+p.is)) + slope
		step := f / g
		next := x + step
		if !(next > lo && next < hi) {
			next = lo + (hi-lo)/2
		} else if step*step < 2*p.vt*1e-13 {
			return next
		}
		x = next
	}
	return x
}

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
