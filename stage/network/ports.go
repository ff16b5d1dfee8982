package network

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Within a step in time the devices of a circuit see its sources, those of memory
// included, through a few combinations of them only: a loudspeaker on a follower, whatever
// it stores, is one, and the signal another. These are the ports, found as the independent
// ones among the columns that the sources have in the equations; what is asked of a
// solution, which is what the stores hold, the watched voltage and the voltages that
// control the devices, is found likewise as combinations of a few.
//
// Of two ports the first is turned so that it is the sum of sources that moves the
// devices' control voltages, in volts of these, and the second the other one, in what
// it moves most: a handover between devices then lies across the first.

// maximumPorts is how many ports a surface may have.
const maximumPorts = 2

// dependent is how far a column or row may be off a combination of others to count as
// one, relative to itself.
const dependent = 1e-9

// ports is how a step's memoryless part is seen.
type ports struct {
	count int
	feed  [maximumPorts][]term                // the ports' values by source
	basis []int                               // sources that stand for all where it is solved at given values
	back  [maximumPorts][maximumPorts]float64 // their values by those of the ports
	vary  []int                               // sources that may vary in time
}

// at returns the values of the ports at those of the sources.
func (p *ports) at(u []float64) (z [maximumPorts]float64) {
	for i := range p.count {
		sum := 0.0
		for _, c := range p.feed[i] {
			sum += c.value * u[c.at]
		}
		z[i] = sum
	}
	return z
}

// set gives the sources values at which the ports have the given ones.
func (p *ports) set(u []float64, z [maximumPorts]float64) {
	for _, v := range p.vary {
		u[v] = 0
	}
	for i, v := range p.basis {
		for j := range p.count {
			u[v] += p.back[i][j] * z[j]
		}
	}
}

// newPorts finds the ports of a transient whose only source that varies, beside those of
// memory, is in. It returns nil where there are too many, or none. The transient must hold a
// solution, and its Jacobian that of it.
func newPorts(t *Transient, in Source) *ports {
	p := &ports{vary: []int{int(in)}}
	for _, r := range t.solver.assembly.reactances {
		p.vary = append(p.vary, r.source)
	}
	columns := t.solver.columns(p.vary, int(in))
	var independent [][]float64
	combined := make([][]float64, len(p.vary))
	for i, column := range columns {
		c, is := combine(independent, column)
		if !is {
			if len(independent) == maximumPorts {
				return nil
			}
			independent = append(independent, column)
			p.basis = append(p.basis, p.vary[i])
			c = append(make([]float64, len(independent)-1), 1)
		}
		combined[i] = c
	}
	p.count = len(independent)
	if p.count == 0 || !p.turn(t, combined) {
		return nil
	}
	return p
}

// columns returns what some sources are in the equations of the unknowns, rows scaled alike,
// and, where a device touches the node that the source in drives, in itself.
func (s *Solver) columns(sources []int, in int) [][]float64 {
	k, width := s.sys.kept, s.sys.width()
	active := k + s.sys.driven
	list := make([][]float64, len(sources))
	for j, src := range sources {
		list[j] = make([]float64, k+1)
		for i := range k {
			row := s.sys.matrix[i*width : (i+1)*width]
			scale := 0.0
			for _, c := range row[:k] {
				scale = max(scale, math.Abs(c))
			}
			value := row[active+src]
			for d, drive := range s.sys.drive {
				if drive == src {
					value += row[k+d]
				}
			}
			if scale > 0 {
				value /= scale
			}
			list[j][i] = value
		}
		if src == in && s.touchesDriven(in) {
			list[j][k] = 1
		}
	}
	return list
}

// touchesDriven reports whether a device touches the node that a source drives.
func (s *Solver) touchesDriven(src int) bool {
	for _, l := range s.assembly.loads {
		for _, v := range l.terminals() {
			if v == grounded {
				continue
			}
			if d := s.sys.active[v] - s.sys.kept; d >= 0 && s.sys.drive[d] == src {
				return true
			}
		}
	}
	return false
}

// combine returns a vector as a combination of independent ones, and whether it is one.
func combine(independent [][]float64, v []float64) (coefficients []float64, is bool) {
	if len(v) == 0 { // a linear circuit has no unknowns left
		return nil, true
	}
	size := mat.Norm(mat.NewVecDense(len(v), v), 2)
	if size == 0 {
		return make([]float64, len(independent)), true
	}
	if len(independent) == 0 {
		return nil, false
	}
	m := mat.NewDense(len(v), len(independent), nil)
	for j, column := range independent {
		m.SetCol(j, column)
	}
	var c, left mat.VecDense
	target := mat.NewVecDense(len(v), v)
	if c.SolveVec(m, target) != nil {
		return nil, false
	}
	left.MulVec(m, &c)
	left.SubVec(&left, target)
	return c.RawVector().Data, mat.Norm(&left, 2) <= dependent*size
}

// turn chooses the ports among the combinations of the sources of the basis, by the
// derivatives at the solution that the transient holds. It reports false where nothing
// moves anything.
func (p *ports) turn(t *Transient, combined [][]float64) bool {
	moved := make([][]float64, p.count) // unknowns by source of the basis
	controls := make([][]float64, p.count)
	for i, v := range p.basis {
		t.solver.tangentBy(Source(v))
		moved[i] = append(moved[i], t.solver.tangent...)
		for _, c := range t.controls {
			controls[i] = append(controls[i], t.solver.tangent[c.variables[0]]-t.solver.tangent[c.variables[1]])
		}
	}
	to := p.directions(moved, controls)
	for i := range p.count {
		for j, c := range combined {
			sum := 0.0
			for b, part := range c {
				sum += to[i][b] * part
			}
			if sum != 0 {
				p.feed[i] = append(p.feed[i], term{p.vary[j], sum})
			}
		}
	}
	if p.count == 1 {
		p.back[0][0] = 1 / to[0][0]
		return !math.IsInf(p.back[0][0], 0)
	}
	d := to[0][0]*to[1][1] - to[0][1]*to[1][0]
	p.back = [2][2]float64{{to[1][1] / d, -to[0][1] / d}, {-to[1][0] / d, to[0][0] / d}}
	return d != 0 && !math.IsInf(1/d, 0)
}

// directions returns the ports by the sources of the basis.
func (p *ports) directions(moved, controls [][]float64) (to [maximumPorts][maximumPorts]float64) {
	size := func(list []float64) float64 {
		most := 0.0
		for _, x := range list {
			most = max(most, math.Abs(x))
		}
		return most
	}
	if p.count == 1 {
		to[0][0] = size(moved[0])
		return to
	}
	// The control voltage that the sources move most tells the first.
	lead, most := 0, 0.0
	for i := range controls[0] {
		if m := math.Hypot(controls[0][i]/size(moved[0]), controls[1][i]/size(moved[1])); m > most {
			lead, most = i, m
		}
	}
	if most == 0 {
		to[0][0], to[1][1] = size(moved[0]), size(moved[1])
		return to
	}
	to[0] = [2]float64{controls[0][lead], controls[1][lead]}
	other := 1
	if math.Abs(to[0][1]/size(moved[1])) > math.Abs(to[0][0]/size(moved[0])) {
		other = 0
	}
	to[1][other] = size(moved[other])
	return to
}
