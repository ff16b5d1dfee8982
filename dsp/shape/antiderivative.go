package shape

// antiderivatives are the first three repeated integrals of a law less its value
// at 0. All three are 0 at x = 0, so that their rounding errors are in proportion
// to what they have grown to at x.
type antiderivatives struct{ first, second, third float64 }

// shifted returns the antiderivatives u farther on, local being the integrals
// from there alone.
func (f antiderivatives) shifted(u float64, local antiderivatives) antiderivatives {
	return antiderivatives{
		first:  f.first + local.first,
		second: f.second + u*f.first + local.second,
		third:  f.third + u*(f.second+u/2*f.first) + local.third,
	}
}

// before is the inverse of shifted: it returns the f whose shifted is g.
func (g antiderivatives) before(u float64, local antiderivatives) antiderivatives {
	first := g.first - local.first
	second := g.second - u*first - local.second
	return antiderivatives{
		first:  first,
		second: second,
		third:  g.third - u*(second+u/2*first) - local.third,
	}
}

// integrals returns the antiderivatives at x, which lies in cell i.
func (l *Law) integrals(i int, x float64) antiderivatives {
	c := &l.cells[i]
	return l.origins[i].shifted(x-c.origin, c.rises(x))
}

// integrate fills l.origins outward from x = 0.
func (l *Law) integrate() {
	l.origins = make([]antiderivatives, len(l.cells))
	zero := l.find(0)
	l.origins[zero] = antiderivatives{}.before(-l.cells[zero].origin, l.cells[zero].rises(0))
	for i := zero + 1; i < len(l.cells); i++ {
		l.origins[i] = l.integrals(i-1, l.cells[i].origin)
	}
	for i := zero - 1; i >= 0; i-- {
		c, next := &l.cells[i], l.cells[i+1].origin
		l.origins[i] = l.origins[i+1].before(next-c.origin, c.rises(next))
	}
}
