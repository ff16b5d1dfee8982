package network

import "math"

// matrix is a small dense square matrix on a flat slice, with room for its own
// factors. Its methods do not allocate.
type matrix struct {
	n      int // order of the part that is factored
	stride int
	a      []float64
	perm   []int
	pivots []float64 // their inverses
}

func newMatrix(n, stride int) *matrix {
	return &matrix{n: n, stride: stride, a: make([]float64, stride*stride), perm: make([]int, n), pivots: make([]float64, n)}
}

// factor replaces the leading n x n part by its LU factors with partial
// pivoting. It returns the first column without a usable pivot, or -1.
func (m *matrix) factor() (singular int) { return m.eliminate(nil) }

// solveOnce factors the matrix and overwrites b, of length n, with the solution, both
// at a time. It returns what factor does.
func (m *matrix) solveOnce(b []float64) (singular int) {
	if k := m.eliminate(b); k >= 0 {
		return k
	}
	m.back(b)
	return -1
}

// eliminate is factor, carrying out the row operations on b too unless it is nil.
func (m *matrix) eliminate(b []float64) (singular int) {
	n, s, a := m.n, m.stride, m.a
	for k := range n {
		p, best := k, math.Abs(a[k*s+k])
		for i := k + 1; i < n; i++ {
			if x := math.Abs(a[i*s+k]); x > best {
				p, best = i, x
			}
		}
		if !(best > 0) || math.IsInf(best, 0) {
			return k
		}
		m.perm[k] = p
		if p != k {
			for j := range n {
				a[k*s+j], a[p*s+j] = a[p*s+j], a[k*s+j]
			}
			if b != nil {
				b[k], b[p] = b[p], b[k]
			}
		}
		top := a[k*s+k+1 : k*s+n]
		inverse := 1 / a[k*s+k]
		m.pivots[k] = inverse
		for i := k + 1; i < n; i++ {
			f := a[i*s+k] * inverse
			if f == 0 {
				continue
			}
			a[i*s+k] = f
			if b != nil {
				b[i] -= f * b[k]
			}
			subtractRow(a[i*s+k+1:i*s+n], top, f)
		}
	}
	return -1
}

// subtractRow takes f times top, of the same length, from a row, four at a time.
func subtractRow(row, top []float64, f float64) {
	for len(top) >= 4 && len(row) >= 4 {
		row[0] -= f * top[0]
		row[1] -= f * top[1]
		row[2] -= f * top[2]
		row[3] -= f * top[3]
		row, top = row[4:], top[4:]
	}
	for j := range min(len(row), len(top)) {
		row[j] -= f * top[j]
	}
}

// solve overwrites b, of length n, with the solution of the factored system.
func (m *matrix) solve(b []float64) {
	n, s, a := m.n, m.stride, m.a
	for k, p := range m.perm {
		b[k], b[p] = b[p], b[k]
	}
	// Two columns at a time: the sums are then independent of each other.
	b = b[:n]
	for k := 0; k+1 < n; k += 2 {
		x := b[k]
		y := b[k+1] - a[(k+1)*s+k]*x
		b[k+1] = y
		if x == 0 && y == 0 {
			continue
		}
		at := (k+2)*s + k
		rest := b[k+2:]
		for i := range rest {
			c := a[at : at+2]
			rest[i] = rest[i] - c[0]*x - c[1]*y
			at += s
		}
	}
	m.back(b)
}

// back is the second half of solve: the substitution from the last row up, two columns at a
// time.
func (m *matrix) back(b []float64) {
	s, a := m.stride, m.a
	k := m.n - 1
	for ; k >= 1; k -= 2 {
		x := b[k] * m.pivots[k]
		y := (b[k-1] - a[(k-1)*s+k]*x) * m.pivots[k-1]
		b[k], b[k-1] = x, y
		at := k - 1
		rest := b[:k-1]
		for i := range rest {
			c := a[at : at+2]
			rest[i] = rest[i] - c[1]*x - c[0]*y
			at += s
		}
	}
	if k == 0 {
		b[0] *= m.pivots[0]
	}
}
