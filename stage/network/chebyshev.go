package network

import "math"

// A cell's polynomials are those through values at Chebyshev's nodes along each port. The
// coefficients of his polynomials fall off where a function is smooth, and tell what is
// left out and which powers are not worth having; powers are quicker to evaluate.

// fit turns the values at the nodes into polynomials, with as many powers of the second
// port as are worth it.
func (f *surface) fit(c *cell, allowed []float64) {
	c.wrong = make([]float64, f.outputs)
	c.rows = 1
	var slow [maximumPorts]float64
	for o := range f.outputs {
		values := f.values[o*cellNodes : (o+1)*cellNodes]
		f.transform(values, chebyshev[0], chebyshev[1])
		left, rows, dropped := leftOut(values, allowed[o])
		c.wrong[o] = left[0] + left[1] + dropped
		c.rows = max(c.rows, rows)
		slow[0] += left[0]
		slow[1] += left[1]
	}
	c.slow = 0
	if slow[1] > slow[0] {
		c.slow = 1
	}
	size := c.rows * alongFirst
	c.polynomials = make([]float64, groups(f.outputs)*c.rows*groupRow)
	for o := range f.outputs {
		values := f.values[o*cellNodes : (o+1)*cellNodes]
		clear(values[size:])
		f.transform(values, powers[0], powers[1])
		for i, value := range values[:size] {
			c.polynomials[place(o, c.rows, i/alongFirst, i%alongFirst)] = value
		}
	}
}

// leftOut estimates from the coefficients of Chebyshev's polynomials what they leave out
// along each port, how many powers of the second are worth having, and what the others
// would have added.
func leftOut(values []float64, allowed float64) (left [maximumPorts]float64, rows int, dropped float64) {
	rows = 1
	for j := alongSecond - 1; j >= 0; j-- {
		row := 0.0
		for i, value := range values[alongFirst*j : alongFirst*(j+1)] {
			size := math.Abs(value)
			row += size
			left[0] += size * lastShare(i, alongFirst)
			left[1] += size * lastShare(j, alongSecond)
		}
		if rows == 1 && j > 0 {
			if dropped+row > negligible*allowed {
				rows = j + 1
			} else {
				dropped += row
			}
		}
	}
	return left, rows, dropped
}

// lastShare is what a coefficient counts in the estimate of what is left out: the last one
// whole, the one before, of the other symmetry, by how fast they fall at least where it
// is little.
func lastShare(i, count int) float64 {
	switch i {
	case count - 1:
		return 1
	case count - 2:
		return 0.2
	}
	return 0
}

// transform applies a matrix along each port.
func (f *surface) transform(values []float64, first, second [][]float64) {
	for j := range alongSecond {
		for i := range alongFirst {
			f.spare[i+alongFirst*j] = dot(first[i], values[alongFirst*j:alongFirst*(j+1)])
		}
	}
	for j := range alongSecond {
		for i := range alongFirst {
			sum := 0.0
			for k, c := range second[j] {
				sum += c * f.spare[i+alongFirst*k]
			}
			values[i+alongFirst*j] = sum
		}
	}
}

// Chebyshev's nodes along each port, the matrices from values at these to coefficients of
// his polynomials, and from those to coefficients of powers.
var (
	alongNodes = [maximumPorts][]float64{chebyshevNodes(alongFirst), chebyshevNodes(alongSecond)}
	chebyshev  = [maximumPorts][][]float64{chebyshevMatrix(alongFirst), chebyshevMatrix(alongSecond)}
	powers     = [maximumPorts][][]float64{powerMatrix(alongFirst), powerMatrix(alongSecond)}
)

func chebyshevNodes(n int) []float64 {
	nodes := make([]float64, n)
	for i := range nodes {
		nodes[i] = -math.Cos(math.Pi * (float64(i) + 0.5) / float64(n))
	}
	return nodes
}

// chebyshevMatrix is the discrete orthogonality of the polynomials at their nodes.
func chebyshevMatrix(n int) [][]float64 {
	m := make([][]float64, n)
	for k := range m {
		m[k] = make([]float64, n)
		for i, x := range chebyshevNodes(n) {
			m[k][i] = 2 / float64(n) * math.Cos(float64(k)*math.Acos(x))
			if k == 0 {
				m[k][i] /= 2
			}
		}
	}
	return m
}

// powerMatrix holds in column k the powers' coefficients in the k-th polynomial, from
// T(k+1) = 2 x T(k) - T(k-1).
func powerMatrix(n int) [][]float64 {
	m := make([][]float64, n)
	for i := range m {
		m[i] = make([]float64, n)
	}
	m[0][0] = 1
	m[1][1] = 1
	for k := 2; k < n; k++ {
		for i := range n {
			m[i][k] = -m[i][k-2]
			if i > 0 {
				m[i][k] += 2 * m[i-1][k-1]
			}
		}
	}
	return m
}
