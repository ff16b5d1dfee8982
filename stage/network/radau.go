package network

import "math"

// collocation is a Radau IIA method (E. Hairer and G. Wanner, Solving Ordinary
// Differential Equations II, IV.5): over a step, every quantity is the polynomial
// through its value at the beginning and those at count nodes, of which the last is
// the end, and at each of these nodes it satisfies the circuit's equations. What is
// accumulated over a step is exact to order 2 count - 1, whatever is fast in the
// circuit is damped, and equations without a derivative hold exactly.
//
// The nodes are the zeros of P(n) - P(n-1), P being Legendre polynomials, on -1..1.
type collocation struct {
	count  int
	nodes  []float64   // within the step, 0 < .. <= 1
	weight []float64   // of the quadrature on them; they add up to 1
	slope  [][]float64 // by node, of the value at the beginning and at the nodes: derivative times step
	series [][]float64 // by order of Legendre polynomial, of the same values: its coefficient
}

// newCollocation returns the method of count nodes, count >= 1; one is Euler's
// backward rule.
func newCollocation(count int) *collocation {
	c := &collocation{count: count, nodes: radauNodes(count)}
	all := append([]float64{0}, c.nodes...)
	for _, at := range c.nodes {
		c.slope = append(c.slope, lagrangeSlopes(all, at))
	}
	c.series = legendreSeries(all)
	// The zeroth Legendre coefficient of the polynomial through the nodes alone is
	// its mean.
	c.weight = legendreSeries(c.nodes)[0]
	return c
}

// legendre returns the Legendre polynomials of orders 0 to n at x.
func legendre(n int, x float64) []float64 {
	p := make([]float64, n+1)
	p[0] = 1
	if n > 0 {
		p[1] = x
	}
	for k := 2; k <= n; k++ {
		p[k] = (float64(2*k-1)*x*p[k-1] - float64(k-1)*p[k-2]) / float64(k)
	}
	return p
}

// radauNodes finds the zeros by bisection between the changes of sign on a fine grid,
// which crowds at the ends as the zeros do.
func radauNodes(count int) []float64 {
	f := func(x float64) float64 {
		p := legendre(count, x)
		return p[count] - p[count-1]
	}
	var nodes []float64
	const grid = 1000
	at := func(i int) float64 { return -math.Cos(math.Pi * (float64(i) + 0.5) / grid) }
	for i := 1; i < grid && len(nodes) < count-1; i++ {
		lo, hi := at(i-1), at(i)
		if (f(lo) > 0) == (f(hi) > 0) {
			continue
		}
		for range 100 {
			mid := (lo + hi) / 2
			if (f(mid) > 0) == (f(lo) > 0) {
				lo = mid
			} else {
				hi = mid
			}
		}
		nodes = append(nodes, (1+lo)/2)
	}
	return append(nodes, 1)
}

// lagrangeSlopes returns the weights with which values at the nodes make the
// derivative, at one of them, of the polynomial through them.
func lagrangeSlopes(nodes []float64, at float64) []float64 {
	w := make([]float64, len(nodes))
	for j, own := range nodes {
		for k := range nodes {
			if k == j {
				continue
			}
			term := 1 / (own - nodes[k])
			for l, other := range nodes {
				if l != j && l != k {
					term *= (at - other) / (own - other)
				}
			}
			w[j] += term
		}
	}
	return w
}

// legendreSeries returns the weights with which values at nodes within 0..1 make the
// Legendre coefficients of the polynomial through them: the inverse of the matrix of
// the Legendre polynomials' values.
func legendreSeries(nodes []float64) [][]float64 {
	n := len(nodes)
	m := newMatrix(n, n)
	for i, at := range nodes {
		copy(m.a[i*n:], legendre(n-1, 2*at-1))
	}
	m.factor()
	series := make([][]float64, n)
	for k := range series {
		series[k] = make([]float64, n)
	}
	for i := range n {
		unit := make([]float64, n)
		unit[i] = 1
		m.solve(unit)
		for k := range n {
			series[k][i] = unit[k]
		}
	}
	return series
}
