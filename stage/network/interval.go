package network

import "math"

// interval is one step of the mesh: the active unknowns at each collocation node, what
// the stores hold there, the output, and how these depend on what the stores hold at
// its beginning.
type interval struct {
	rule          *collocation
	start, length float64   // s
	x             []float64 // by node and active unknown
	own           []float64 // by node and store
	limits        []float64 // by node: the voltages at which junctions were last evaluated
	in, out       []float64 // by node
	begin         float64   // output at the beginning
	doubt         float64   // by how much the output may be wrong within, V
	tail          float64   // what the polynomials leave out, relative
	rates         []float64 // of the stores at the end, 1/s
	sweep         []float64 // derivative of the mean output by those, where a leap within moves
	swept         float64   // V, added to the mean output by such a move
	jump          []float64 // derivative of the stores at the end by those at the beginning
	lean          []float64 // by node and store at the beginning: derivative of the active unknowns
}

// workspace is the scratch of one step's iteration.
type workspace struct {
	newton  [][]float64 // by node: the Newton step with the other nodes held
	bring   [][]float64 // by node and store: derivative of the unknowns by what feeds its equation
	gain    [][]float64 // by node: what each store changes by what feeds each
	feed    []float64   // capacitance or inductance over the step
	coupled *matrix     // of the rule at hand
	whole   *matrix
	single  *matrix
	vector  []float64
}

func (w *workspace) prepare(p *Periodic) {
	k, n := p.solver.sys.kept, len(p.ports)
	for range meshNodes {
		w.newton = append(w.newton, make([]float64, k))
		w.bring = append(w.bring, make([]float64, n*k))
		w.gain = append(w.gain, make([]float64, n*n))
	}
	w.feed = make([]float64, n)
	w.whole, w.single = newMatrix(meshNodes*n, meshNodes*n), newMatrix(n, n)
	w.vector = make([]float64, meshNodes*n)
}

// interval returns an empty step of a rule.
func (p *Periodic) interval(rule *collocation) *interval {
	for i := len(p.spare) - 1; i >= 0; i-- {
		if iv := p.spare[i]; iv.rule == rule {
			p.spare = append(p.spare[:i], p.spare[i+1:]...)
			return iv
		}
	}
	s, k, n := rule.count, p.solver.sys.kept, len(p.ports)
	return &interval{
		rule: rule, x: make([]float64, s*k), own: make([]float64, s*n), in: make([]float64, s), out: make([]float64, s),
		limits: make([]float64, s*p.solver.junctions()), jump: make([]float64, n*n), lean: make([]float64, s*n*k),
		rates: make([]float64, n), sweep: make([]float64, n),
	}
}

// junctions returns how many junction voltages the loads keep from one evaluation to
// the next.
func (s *Solver) junctions() int { return 2 * len(s.assembly.loads) }

// limit puts the kept junction voltages into the loads, and keep takes them out.
func (s *Solver) limit(kept []float64) {
	for i, l := range s.assembly.loads {
		switch l := l.(type) {
		case *bipolarLoad:
			l.lastVBE, l.lastVBC = kept[2*i], kept[2*i+1]
		case *diodeLoad:
			l.last = kept[2*i]
		}
	}
}

func (s *Solver) keep(kept []float64) {
	for i, l := range s.assembly.loads {
		switch l := l.(type) {
		case *bipolarLoad:
			kept[2*i], kept[2*i+1] = l.lastVBE, l.lastVBC
		case *diodeLoad:
			kept[2*i] = l.last
		}
	}
}

// predict extrapolates the polynomials of the last step to the nodes of a new one, or
// takes what is at the end of the last.
func (p *Periodic) predict(iv, last *interval, still bool) {
	k, nk := p.solver.sys.kept, p.solver.junctions()
	if still || last.rule != iv.rule || last.rule.count == 1 {
		for i := range iv.rule.count {
			copy(iv.x[i*k:(i+1)*k], last.x[(last.rule.count-1)*k:])
			copy(iv.limits[i*nk:(i+1)*nk], last.limits[(last.rule.count-1)*nk:])
		}
		return
	}
	s := iv.rule.count
	ratio := iv.length / last.length
	for i, at := range iv.rule.nodes {
		w := lagrange(iv.rule.nodes, 1+ratio*at)
		x := iv.x[i*k : (i+1)*k]
		clear(x)
		for j, c := range w {
			for v, from := range last.x[j*k : (j+1)*k] {
				x[v] += c * from
			}
		}
		copy(iv.limits[i*nk:(i+1)*nk], last.limits[(s-1)*nk:])
	}
}

// lagrange returns the weights with which values at nodes make that at another place.
func lagrange(nodes []float64, at float64) (w [meshNodes]float64) {
	for j := range nodes {
		w[j] = 1
		for k, other := range nodes {
			if k != j {
				w[j] *= (at - other) / (nodes[j] - other)
			}
		}
	}
	return w
}

const (
	meshIterations = 14
	leapIterations = 60
	runawayStep    = 1e5 // volts or amperes
	hopeful        = 5   // iterations after which a step must be small
	small          = 0.1 // volts or amperes
)

// solve iterates on the equations of a step at all its nodes together. What the stores
// hold at its beginning is what they hold at the end of the last one, or of the period.
func (p *Periodic) solve(iv, last *interval, signal Signal, tolerance float64) bool {
	begin := p.beginning(last)
	for r := range p.ports {
		p.work.feed[r] = p.ports[r].size / iv.length
	}
	enough := max(closeVolts, math.Sqrt(tolerance*p.swing/(8*perVolt)))
	for i, at := range iv.rule.nodes {
		iv.in[i] = signal.At(iv.start + iv.length*at)
		p.readNode(iv, i)
	}
	iterations := meshIterations
	if iv.rule.count == 1 {
		iterations = leapIterations
	}
	for round := range iterations {
		limited := false
		for i := range iv.rule.count {
			bound, ok := p.node(iv, i, begin)
			if !ok {
				return false
			}
			limited = limited || bound
		}
		if p.couple(iv); p.work.coupled.n > 0 && p.work.coupled.factor() >= 0 {
			return false
		}
		worst := p.step(iv)
		if !(worst < runawayStep) || iv.rule.count > 1 && round > hopeful && worst > small && !limited {
			return false
		}
		if !limited && worst < enough {
			return true
		}
	}
	return false
}

// beginning returns what the stores hold at the beginning of the step after last.
func (p *Periodic) beginning(last *interval) []float64 {
	if last == nil {
		return p.held
	}
	return last.own[(last.rule.count-1)*len(p.ports):]
}

// readNode reads stores and output from the unknowns at a node.
func (p *Periodic) readNode(iv *interval, i int) {
	s, n, k := p.solver, len(p.ports), p.solver.sys.kept
	copy(s.x[:k], iv.x[i*k:(i+1)*k])
	s.u[p.in] = iv.in[i]
	for d, src := range s.sys.drive {
		s.x[k+d] = s.u[src]
	}
	for r := range p.ports {
		iv.own[i*n+r] = p.ports[r].own.of(s.x, s.u)
	}
	iv.out[i] = p.out.of(s.x, s.u)
}

// node linearises the equations at a node, and solves them for the Newton step with
// the other nodes held and for the derivatives by what those feed.
func (p *Periodic) node(iv *interval, i int, begin []float64) (limited, ok bool) {
	s, w, n, k := p.solver, &p.work, len(p.ports), p.solver.sys.kept
	nk := s.junctions()
	s.u[p.in] = iv.in[i]
	copy(s.x[:k], iv.x[i*k:(i+1)*k])
	s.fixConstants()
	s.limit(iv.limits[i*nk:])
	limited = s.linearise()
	s.keep(iv.limits[i*nk : (i+1)*nk])
	slope := iv.rule.slope[i]
	for r := range p.ports {
		pt := &p.ports[r]
		other := slope[0] * begin[r]
		for j := range iv.rule.count {
			if j != i {
				other += slope[j+1] * iv.own[j*n+r]
			}
		}
		p.store(pt, w.feed[r]*slope[i+1], w.feed[r]*other)
	}
	if s.jacobian.factor() >= 0 {
		return limited, false
	}
	step := w.newton[i]
	copy(step, s.stamps.f[:k])
	s.jacobian.solve(step)
	for v := range step {
		step[v] = -step[v]
	}
	for r := range p.ports {
		unit := w.bring[i][r*k : (r+1)*k]
		clear(unit)
		unit[p.ports[r].at] = 1
		s.jacobian.solve(unit)
		for q := range p.ports {
			w.gain[i][q*n+r] = p.ports[q].own.by(unit)
		}
	}
	return limited, true
}

// store writes the equation of a store: its other quantity, less impedance times what
// it stores by, less what the other nodes feed, is nothing. What the branch's equation
// held was the voltage across it.
func (p *Periodic) store(pt *port, impedance, fed float64) {
	s := p.solver
	row := s.stamps.j[pt.at*s.stamps.stride:][:s.sys.kept+s.sys.driven]
	voltage, current := s.stamps.f[pt.at], s.x[pt.at]
	if pt.inductive {
		s.stamps.f[pt.at] = voltage - impedance*current - fed
		row[pt.at] -= impedance
		return
	}
	s.stamps.f[pt.at] = current - impedance*voltage - fed
	for j := range row {
		row[j] *= -impedance
	}
	row[pt.at]++
}

// by returns the change of a combination with a change of the active unknowns.
func (r *reading) by(x []float64) float64 {
	sum := 0.0
	for _, c := range r.active {
		if c.at < len(x) {
			sum += c.value * x[c.at]
		}
	}
	return sum
}

// couple writes the equations that tie what the stores hold at the nodes to each other.
func (p *Periodic) couple(iv *interval) {
	w, n, s := &p.work, len(p.ports), iv.rule.count
	m := w.whole
	if s == 1 {
		m = w.single
	}
	w.coupled = m
	for i := range s {
		for q := range n {
			row := m.a[(i*n+q)*m.stride:][:s*n]
			for j := range s {
				slope := iv.rule.slope[i][j+1]
				for r := range n {
					row[j*n+r] = 0
					if j != i {
						row[j*n+r] = -w.gain[i][q*n+r] * w.feed[r] * slope
					}
				}
			}
			row[i*n+q] = 1
		}
	}
}

// step takes the Newton step at all nodes and returns its maximum part.
func (p *Periodic) step(iv *interval) float64 {
	w, n, s, k := &p.work, len(p.ports), iv.rule.count, p.solver.sys.kept
	b := w.vector[:s*n]
	for i := range s {
		for q := range p.ports {
			b[i*n+q] = p.ports[q].own.by(w.newton[i])
		}
	}
	if n > 0 {
		w.coupled.solve(b)
	}
	worst := 0.0
	for i := range s {
		x := iv.x[i*k : (i+1)*k]
		step := w.newton[i]
		for r := range p.ports {
			sum := 0.0
			for j := range s {
				if j != i {
					sum += iv.rule.slope[i][j+1] * b[j*n+r]
				}
			}
			sum *= w.feed[r]
			for v, d := range w.bring[i][r*k : (r+1)*k] {
				step[v] += sum * d
			}
		}
		for v, d := range step {
			worst = max(worst, math.Abs(d))
			x[v] += max(-strideLimit, min(strideLimit, d))
		}
		p.readNode(iv, i)
	}
	return worst
}

// depend works out, from the last iteration, how the unknowns and the stores depend on
// what the stores hold at the beginning, and how fast the stores change at the end.
func (p *Periodic) depend(iv, last *interval) {
	w, n, s, k := &p.work, len(p.ports), iv.rule.count, p.solver.sys.kept
	for c := range n {
		b := w.vector[:s*n]
		for i := range s {
			for q := range n {
				b[i*n+q] = w.gain[i][q*n+c] * w.feed[c] * iv.rule.slope[i][0]
			}
		}
		w.coupled.solve(b)
		for q := range n {
			iv.jump[q*n+c] = b[(s-1)*n+q]
		}
		for i := range s {
			lean := iv.lean[(i*n+c)*k:][:k]
			clear(lean)
			for r := range n {
				fed := 0.0
				for j := range s {
					if j != i {
						fed += iv.rule.slope[i][j+1] * b[j*n+r]
					}
				}
				if r == c {
					fed += iv.rule.slope[i][0]
				}
				fed *= w.feed[r]
				for v, d := range w.bring[i][r*k : (r+1)*k] {
					lean[v] += fed * d
				}
			}
		}
	}
	clear(iv.sweep)
	iv.swept = 0
	begin, slope := p.beginning(last), iv.rule.slope[s-1]
	for r := range n {
		sum := slope[0] * begin[r]
		for j, c := range slope[1:] {
			sum += c * iv.own[j*n+r]
		}
		iv.rates[r] = sum / iv.length
	}
}
