package network

import (
	"math"
	"slices"
)

// Newton's method in twice the precision, for circuits whose equations float64 does not
// hold apart. A node that hangs on the leakage of blocking junctions beside a resistance
// of milliohms has an equation of 1e-15 S, which vanishes in the rounding of the 1e3 S
// that it is added to; the Jacobian is then singular or of the wrong sign, and the
// iteration is thrown about, though the circuit has one operating point and the way to it
// is smooth; or it stops at a point that is none. A winding stepped up from a weak source
// never comes to rest for the same reason.
//
// Only what is linear needs the digits, for a junction that conducts well carries a
// current that hangs on no leakage: unknowns, linear equations and elimination are wide,
// devices are evaluated at the rounded unknowns and stay apart from the linear part until
// both are wide. As in float64 (system), a row is evaluated by its grounding and by
// differences of voltages, and its coefficient at the node that they are taken from is
// what these leave of it. The solution is handed on rounded, and the Jacobian as rounded
// factors of the wide elimination, which keep the small pivots that count.
type precise struct {
	order    int
	x        []wide // active variables
	constant []wide // part of the kept equations that the sources fix
	f        []wide // kept equations
	j        []wide // their Jacobian by the kept variables
}

func newPrecise(s *system) *precise {
	return &precise{
		order:    s.kept,
		x:        make([]wide, s.kept+s.driven),
		constant: make([]wide, s.kept),
		f:        make([]wide, s.kept),
		j:        make([]wide, s.kept*s.kept),
	}
}

// begin takes over the iterate and the sources of a solver.
func (p *precise) begin(s *Solver) {
	for i := range p.x {
		p.x[i] = wide{hi: s.x[i]}
	}
	for i := range p.constant {
		p.constant[i] = wide{}
		for _, t := range s.sys.equations[i].sources {
			p.constant[i] = p.constant[i].plus(wide{hi: t.value}.scaled(s.u[t.at]))
		}
	}
}

// iterate takes one Newton step, as Solver.iterate does.
func (p *precise) iterate(s *Solver) (worst float64, limited bool) {
	limited = p.linearise(s)
	if !p.eliminate(s.jacobian.perm) {
		return math.NaN(), limited
	}
	p.handOn(s.sys, s.jacobian)
	return p.advance(s), limited
}

// advance takes the step that stands in f and returns its maximum part relative to an
// unknown beyond 1 V or 1 A; NaN if one has run away. An unknown may go as far as it has
// come: the forward current of a transistor that is saturated from a stiff source is
// megaamperes.
func (p *precise) advance(s *Solver) (worst float64) {
	for i, step := range p.f {
		size := math.Abs(p.x[i].hi)
		stride := max(strideLimit, size)
		p.x[i] = p.x[i].minus(wide{hi: max(-stride, min(stride, step.hi))})
		s.x[i] = p.x[i].hi
		worst = max(worst, math.Abs(step.hi)/max(1, size))
		if !(math.Abs(s.x[i]) < runaway) {
			return math.NaN()
		}
	}
	return worst
}

// linearise evaluates the equations and their Jacobian.
func (p *precise) linearise(s *Solver) (limited bool) {
	clear(s.stamps.f)
	clear(s.stamps.j)
	for _, l := range s.assembly.loads {
		if l.stamp(&s.stamps) {
			limited = true
		}
	}
	for i := range p.order {
		p.f[i] = p.constant[i].plus(wide{hi: s.stamps.f[i]})
		for j, slope := range s.stamps.j[i*s.stamps.stride:][:p.order] {
			p.j[i*p.order+j] = wide{hi: slope}
		}
		p.addLinear(i, &s.sys.equations[i])
	}
	return limited
}

// addLinear adds the linear part of active equation i.
func (p *precise) addLinear(i int, eq *equation) {
	var base wide
	left := wide{hi: eq.grounding}
	if eq.reference >= 0 {
		base = p.x[eq.reference]
	}
	p.f[i] = p.f[i].plus(base.scaled(eq.grounding))
	for _, t := range eq.voltages {
		p.f[i] = p.f[i].plus(p.x[t.at].minus(base).scaled(t.value))
		p.addSlope(i, t.at, wide{hi: t.value})
		left = left.minus(wide{hi: t.value})
	}
	for _, t := range eq.currents {
		p.f[i] = p.f[i].plus(p.x[t.at].scaled(t.value))
		p.addSlope(i, t.at, wide{hi: t.value})
	}
	p.addSlope(i, eq.reference, left)
}

// addSlope adds to the derivative of equation i by an active variable, unless that is
// driven or none.
func (p *precise) addSlope(i, variable int, slope wide) {
	if variable >= 0 && variable < p.order {
		at := i*p.order + variable
		p.j[at] = p.j[at].plus(slope)
	}
}

// eliminate factors the Jacobian with partial pivoting, as matrix.factor does, and
// replaces f by the Newton step. It returns false where there is no pivot.
func (p *precise) eliminate(perm []int) bool {
	for k := range p.order {
		perm[k] = p.pivot(k)
		top := p.row(k)
		if size := math.Abs(top[k].hi); !(size > 0) || math.IsInf(size, 0) {
			return false
		}
		inverse := top[k].inverse()
		for i := k + 1; i < p.order; i++ {
			row := p.row(i)
			if row[k].hi == 0 {
				continue
			}
			factor := row[k].times(inverse)
			row[k] = factor
			for j := k + 1; j < p.order; j++ {
				row[j] = row[j].minus(factor.times(top[j]))
			}
			p.f[i] = p.f[i].minus(factor.times(p.f[k]))
		}
	}
	for k := p.order - 1; k >= 0; k-- {
		row := p.row(k)
		for j := k + 1; j < p.order; j++ {
			p.f[k] = p.f[k].minus(row[j].times(p.f[j]))
		}
		p.f[k] = p.f[k].times(row[k].inverse())
	}
	return true
}

func (p *precise) row(i int) []wide { return p.j[i*p.order:][:p.order] }

// pivot brings the row of the maximum coefficient in column k to row k and returns where
// it stood.
func (p *precise) pivot(k int) (from int) {
	from = k
	for i := k + 1; i < p.order; i++ {
		if math.Abs(p.row(i)[k].hi) > math.Abs(p.row(from)[k].hi) {
			from = i
		}
	}
	top, other := p.row(k), p.row(from)
	for j := range top {
		top[j], other[j] = other[j], top[j]
	}
	p.f[k], p.f[from] = p.f[from], p.f[k]
	return from
}

// handOn rounds the factors into a solver's matrix, where solve reads them, and completes
// the slopes by driven nodes beside them.
func (p *precise) handOn(s *system, m *matrix) {
	for i := range p.order {
		row := m.a[i*m.stride:]
		for j, value := range p.row(i) {
			row[j] = value.hi
		}
		m.pivots[i] = 1 / row[i]
		for j := p.order; j < p.order+s.driven; j++ {
			row[j] += s.matrix[i*s.width()+j]
		}
	}
}

// twice tries a way to a solution in twice the precision.
func (s *Solver) twice(try func() bool) bool {
	if s.precise == nil {
		s.precise = newPrecise(s.sys)
	}
	s.precisely = true
	s.precisely = try()
	return s.precisely
}

// anew tries all ways to a solution in twice the precision.
func (s *Solver) anew() bool {
	return s.twice(func() bool { return s.walk() || s.cold() || s.raise() || s.relax() })
}

// again iterates in twice the precision from a solution that was found so.
func (s *Solver) again() bool {
	if !s.good.precise {
		return false
	}
	copy(s.x, s.good.x)
	return s.twice(s.warm)
}

// confirm solves again in twice the precision, from a solution whose Jacobian has lost a
// pivot in the rounding of its row: an iteration by such a pivot stops anywhere. Where
// this fails the solution stays.
func (s *Solver) confirm() {
	if s.precisely || !s.lost() {
		return
	}
	was := slices.Clone(s.x)
	if s.twice(s.warm) {
		return
	}
	copy(s.x, was)
	s.linearise()
	s.jacobian.factor()
}

// lostPivot is what a pivot must be of the maximum linear coefficient of its row, so that
// rounding leaves it two digits.
const lostPivot = 0x1p-42

// lost reports whether the factored Jacobian has a pivot that rounding may have made.
func (s *Solver) lost() bool {
	copy(s.rows, s.scales)
	for k, from := range s.jacobian.perm {
		s.rows[k], s.rows[from] = s.rows[from], s.rows[k]
		if math.Abs(s.jacobian.pivots[k])*lostPivot*s.rows[k] > 1 {
			return true
		}
	}
	return false
}
