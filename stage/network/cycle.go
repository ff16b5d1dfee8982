package network

import (
	"math"
	"math/cmplx"
	"slices"
)

// Cycle is one period of a periodic state. It is not changed by further solutions.
type Cycle struct {
	periodic  *Periodic
	signal    Signal
	intervals []*interval
}

// followed is how far an unknown may move, in volts or amperes, for what devices pass to
// be told by it; beside a leap that moves they would go further, for next to no time.
const followed = 1e-3

// correct takes the cycle along a change of what the stores hold at its beginning.
func (c *Cycle) correct(change []float64) {
	p, n, k := c.periodic, len(change), c.periodic.solver.sys.kept
	c.follow(change, func(iv *interval, i int, moved []float64, swept float64) {
		iv.swept = swept
		iv.out[i] += p.out.by(moved)
		if slices.ContainsFunc(moved, func(d float64) bool { return math.Abs(d) > followed }) {
			return
		}
		for v, d := range moved {
			iv.x[i*k+v] += d
		}
		for r := range p.ports {
			iv.own[i*n+r] += p.ports[r].own.by(moved)
		}
	})
	for i, d := range change {
		p.held[i] += d
	}
	begin := c.intervals[len(c.intervals)-1].end()
	for _, iv := range c.intervals {
		iv.begin = begin
		begin = iv.end()
	}
}

// effect returns the mean size of what a change of the stores at the beginning makes
// of the output, V.
func (c *Cycle) effect(change []float64) float64 {
	sum := 0.0
	c.follow(change, func(iv *interval, i int, moved []float64, swept float64) {
		sum += (math.Abs(c.periodic.out.by(moved)) + math.Abs(swept)) * iv.rule.weight[i] * iv.length
	})
	return sum / c.signal.Period
}

// follow works out what a change of the stores at the beginning makes of the active
// unknowns at each node, and of the mean output of each step by moving its leap.
func (c *Cycle) follow(change []float64, f func(iv *interval, node int, moved []float64, swept float64)) {
	n, k := len(change), c.periodic.solver.sys.kept
	at, next, moved := slices.Clone(change), make([]float64, n), make([]float64, k)
	for _, iv := range c.intervals {
		for i := range iv.out {
			clear(moved)
			for q, d := range at {
				for v, lean := range iv.lean[(i*n+q)*k:][:k] {
					moved[v] += lean * d
				}
			}
			f(iv, i, moved, dot(iv.sweep, at))
		}
		for q := range next {
			next[q] = dot(iv.jump[q*n:(q+1)*n], at)
		}
		at, next = next, at
	}
}

// end returns the output at a step's end.
func (iv *interval) end() float64 { return iv.out[len(iv.out)-1] }

// Steps returns how many steps the mesh has.
func (c *Cycle) Steps() int { return len(c.intervals) }

// Doubt estimates, in volts, by how much any line of the output may be wrong: twice
// the mean over the period of what the polynomials of the mesh leave out.
func (c *Cycle) Doubt() float64 {
	sum := 0.0
	for _, iv := range c.intervals {
		sum += iv.doubt * iv.length
	}
	return 2 * sum / c.signal.Period
}

// Each calls f at all collocation nodes of the period in the order of time, with a
// solver that holds the solution there and must not be solved, and with the node's
// share in a mean over the period.
func (c *Cycle) Each(f func(s *Solver, seconds, share float64)) {
	p := c.periodic
	s, k, nk := p.solver, p.solver.sys.kept, p.solver.junctions()
	for _, iv := range c.intervals {
		for i, at := range iv.rule.nodes {
			copy(s.x[:k], iv.x[i*k:(i+1)*k])
			s.u[p.in] = iv.in[i]
			s.fixConstants()
			s.limit(iv.limits[i*nk:])
			s.linearise()
			f(s, iv.start+at*iv.length, iv.rule.weight[i]*iv.length/c.signal.Period)
		}
	}
}

// Lines returns the output's lines at orders of the base frequency, orders >= 0:
// the output is the real part of the sum over all orders k of
// line(k) exp(2 pi i k t/period). Each is the exact integral of the output's
// polynomials:
//
//	integral over -1..1 of P(n, x) exp(-i q x) = 2 (-i)^n j(n, q)
//
// with Legendre polynomials P and spherical Bessel functions j.
func (c *Cycle) Lines(orders []int) []complex128 {
	lines := make([]complex128, len(orders))
	values := make([]float64, 0, meshNodes+1)
	for _, iv := range c.intervals {
		values := append(values[:0], iv.begin)
		values = append(values, iv.out...)
		var a [meshNodes + 1]float64
		for k, row := range iv.rule.series {
			a[k] = dot(row, values)
		}
		a[0] += iv.swept
		middle := 2 * math.Pi * (iv.start + iv.length/2) / c.signal.Period
		half := math.Pi * iv.length / c.signal.Period
		turn, at, power := cmplx.Rect(1, -middle), 0, complex(1, 0)
		for i, k := range orders {
			if k == at+1 {
				power *= turn
			} else if k != at {
				power = cmplx.Rect(1, -middle*float64(k))
			}
			at = k
			lines[i] += power * complex(iv.length/c.signal.Period, 0) * moment(&a, half*float64(k))
		}
	}
	for i, k := range orders {
		if k > 0 {
			lines[i] *= 2
		}
	}
	return lines
}

// moment returns half the integral over -1..1 of a Legendre series times exp(-iqx).
func moment(a *[meshNodes + 1]float64, q float64) complex128 {
	j := bessel(q)
	var re, im float64
	for n, c := range a {
		switch n % 4 {
		case 0:
			re += c * j[n]
		case 1:
			im -= c * j[n]
		case 2:
			re -= c * j[n]
		case 3:
			im += c * j[n]
		}
	}
	return complex(re, im)
}

// bessel returns the spherical Bessel functions of orders 0 to meshNodes: by their
// power series and the recurrence downward for small arguments, upward for others
// (F. W. J. Olver and others, NIST Handbook of Mathematical Functions, 10.49 to 10.53).
func bessel(q float64) (j [meshNodes + 1]float64) {
	if q > 2 {
		sin, cos := math.Sincos(q)
		j[0] = sin / q
		j[1] = (j[0] - cos) / q
		for n := 1; n < meshNodes; n++ {
			j[n+1] = float64(2*n+1)/q*j[n] - j[n-1]
		}
		return j
	}
	above := besselSeries(meshNodes+1, q)
	j[meshNodes] = besselSeries(meshNodes, q)
	if q == 0 {
		j[0] = 1
		return j
	}
	for n := meshNodes; n > 0; n-- {
		j[n-1] = float64(2*n+1)/q*j[n] - above
		above = j[n]
	}
	return j
}

// besselSeries returns j(n, q) by its power series, for q <= 2:
// q^n/(2n+1)!! (1 - (q^2/2)/(1! (2n+3)) + (q^2/2)^2/(2! (2n+3)(2n+5)) - ...).
func besselSeries(n int, q float64) float64 {
	term := 1.0
	for k := 1; k <= n; k++ {
		term *= q / float64(2*k+1)
	}
	sum, half := term, q*q/2
	for k := 1; k < 20; k++ {
		term *= -half / (float64(k) * float64(2*n+2*k+1))
		sum += term
		if math.Abs(term) < 1e-17*math.Abs(sum) {
			break
		}
	}
	return sum
}
