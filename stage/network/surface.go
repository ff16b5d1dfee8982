package network

import (
	"math"
	"slices"
)

// A surface holds what a step in time asks of a circuit's memoryless part as a function of
// its one or two ports, so that a step need not iterate. The plane of the ports is laid
// out in tiles, and these are halved, this way or that, into cells, on each of which
// every quantity is a polynomial through values at Chebyshev's nodes. What it leaves out
// there is estimated from its last coefficients. A cell is made only after some steps
// have been solved in it, which cost less than it does, and halved across the direction
// in which the coefficients fall slower where that estimate is more than what an
// iteration would leave.
type surface struct {
	ports
	outputs  int
	evaluate func(s *Solver, outputs []float64) // at a solution
	tiles    []*cell
	last     *cell
	recent   [recentCells]*cell // by a hash of the place
	cells    int
	passed   []float64 // scratch: by node and unknown
	values   []float64 // scratch: by output and node
	spare    []float64
}

// Sizes of a surface: degrees are those along the two ports, plus one.
const (
	alongFirst  = 8
	alongSecond = 6
	cellNodes   = alongFirst * alongSecond

	tileWidth    = 32.0 // V
	tilesAcross  = 64
	smallestCell = 1.0 / 2048 // V
	// recentCells is how many cells are at hand, each by one of the squares of a grid of
	// recentAcross to the volt in which it was found last: within a signal's swing
	// most squares lie in one cell, which is then found without going down its tile.
	recentCells  = 1024
	recentRow    = 64
	recentAcross = 16
	mostCells    = 4096
	// solvedFirst is how many steps are solved in a cell before it is made, and
	// solvedHalf in one half of another.
	solvedFirst = 24
	solvedHalf  = 4
	nodeVolts   = 1e-7 // a Newton step this small is the last at a node
	// surfaceLeft is what a cell may leave of the watched voltage and of what the stores hold,
	// relative to their sizes: -150 dB.
	surfaceLeft = 3e-8
	// leastLeft, in volts or amperes, is the least that either is asked for: rounding leaves
	// hardly less of what a node is solved for.
	leastLeft = 1e-12
	// negligible is the part of what a cell may leave that powers may have without being
	// worth having.
	negligible = 0.1
	// controlLeft is what a cell may leave of a control voltage, relative to the signal.
	controlLeft = 1e-6
)

// cell is a rectangle of the ports' plane. What every step looks at stands first.
type cell struct {
	middle      [maximumPorts]float64
	per         [maximumPorts]float64 // 1/half, a power of two; infinite where it is halved, and holds no point
	polynomials []float64             // as readPlain takes them
	rows        int                   // powers of the second port
	servedAt    int                   // the allowance that it was last seen to serve
	half        [maximumPorts]float64
	halves      [2]*cell  // nil where it is whole
	across      int       // the port that it is halved across
	solved      int       // steps solved in it so far
	refused     bool      // it has no polynomials, and is not to be tried again
	slow        int       // the port along which the coefficients fall slower
	wrong       []float64 // by output
	near        []float64 // a solution in it
}

// newCell returns a cell without polynomials.
func newCell(middle, half [maximumPorts]float64) *cell {
	c := &cell{middle: middle, half: half}
	for i, h := range half {
		c.per[i] = 1 / h
	}
	return c
}

// newSurface returns the surface of a transient's outputs, nil where the circuit has too many
// ports.
func newSurface(t *Transient, in Source) *surface {
	p := newPorts(t, in)
	if p == nil {
		return nil
	}
	return newSurfaceOf(*p, len(t.outputs), func(s *Solver, values []float64) {
		for i, row := range t.outputs {
			values[i] = combination(row, s.x)
		}
	})
}

// newSurfaceOf returns an empty surface.
func newSurfaceOf(p ports, outputs int, evaluate func(s *Solver, values []float64)) *surface {
	return &surface{
		ports: p, outputs: outputs, evaluate: evaluate, tiles: make([]*cell, tilesAcross*tilesAcross),
		values: make([]float64, cellNodes*outputs), spare: make([]float64, max(cellNodes, outputs)),
	}
}

// find returns the cell of a point, nil outside of the tiles.
func (f *surface) find(z [maximumPorts]float64) *cell {
	if c := f.last; c != nil && c.holds(z) {
		return c
	}
	at := &f.recent[recentAt(z)]
	if c := *at; c != nil && c.holds(z) {
		f.last = c
		return c
	}
	c := f.search(z)
	if c != nil {
		*at, f.last = c, c
	}
	return c
}

// holds reports whether a point is inside of a cell that is whole.
func (c *cell) holds(z [maximumPorts]float64) bool {
	return math.Abs(z[0]-c.middle[0])*c.per[0] < 1 && math.Abs(z[1]-c.middle[1])*c.per[1] < 1
}

// recentAt returns where a place's cell is among the recent ones.
func recentAt(z [maximumPorts]float64) int {
	const middle = 1 << 20 // V, far outside of the tiles
	x, y := int((z[0]+middle)*recentAcross), int((z[1]+middle)*recentAcross)
	return (x + y*recentRow) & (recentCells - 1)
}

// search goes down the tile of a point to its cell, nil outside of the tiles.
func (f *surface) search(z [maximumPorts]float64) *cell {
	x, y := math.Floor(z[0]/tileWidth)+tilesAcross/2, math.Floor(z[1]/tileWidth)+tilesAcross/2
	if !(x >= 0 && x < tilesAcross && y >= 0 && y < tilesAcross) {
		return nil
	}
	at := int(x) + tilesAcross*int(y)
	c := f.tiles[at]
	if c == nil {
		c = newCell(
			[2]float64{(x - tilesAcross/2 + 0.5) * tileWidth, (y - tilesAcross/2 + 0.5) * tileWidth},
			[2]float64{tileWidth / 2, tileWidth / 2},
		)
		if f.count == 1 {
			c.middle[1] = 0 // there is no second port: its value is always nothing
		}
		f.tiles[at] = c
	}
	for c.halves[0] != nil {
		if z[c.across] < c.middle[c.across] {
			c = c.halves[0]
		} else {
			c = c.halves[1]
		}
	}
	return c
}

// halve replaces a cell by its halves.
func (c *cell) halve(across int) {
	c.across = across
	for i := range c.halves {
		middle, half := c.middle, c.half
		half[across] /= 2
		middle[across] += float64(2*i-1) * half[across]
		c.halves[i] = newCell(middle, half)
		c.halves[i].solved = solvedFirst - solvedHalf
	}
	c.per = [maximumPorts]float64{math.Inf(1), math.Inf(1)}
	c.polynomials, c.wrong = nil, nil
}

// serves reports whether a cell's polynomials leave no more than allowed.
func (c *cell) serves(allowed []float64) bool {
	for i, w := range c.wrong {
		if !(w <= allowed[i]) {
			return false
		}
	}
	return true
}

// refine halves a cell across the port along which its coefficients fall slower, or gives
// it up where it is smallest.
func (f *surface) refine(c *cell) {
	if c.half[c.slow] <= smallestCell {
		c.refused, c.polynomials = true, nil
		return
	}
	c.halve(c.slow)
}

// note takes a step that was solved in a cell, with its outputs, and makes the cell's
// polynomials or halves it where it is time. It reports whether it has used the solver.
func (f *surface) note(s *Solver, c *cell, z [maximumPorts]float64, outputs, allowed []float64) bool {
	if c == nil || c.refused || c.polynomials != nil || f.cells >= mostCells {
		return false
	}
	if c.solved++; c.solved < solvedFirst {
		return false
	}
	if f.build(s, c) {
		f.fit(c, allowed)
		f.cells++
		now := f.spare[:f.outputs]
		c.read(now, z)
		for i, exact := range outputs {
			c.wrong[i] = max(c.wrong[i], math.Abs(now[i]-exact))
		}
		c.servedAt = 0
		if c.serves(allowed) {
			return true
		}
	}
	f.refine(c)
	return true
}

// build solves the circuit at a cell's nodes and fits the polynomials. It returns false where
// there is no solution at one.
func (f *surface) build(s *Solver, c *cell) bool {
	c.near = append([]float64(nil), s.x...)
	u := append([]float64(nil), s.u...)
	peaks := s.peaks(nil)
	ok := f.solveNodes(s, c)
	copy(s.x, c.near)
	copy(s.u, u)
	s.peaks(peaks)
	if ok {
		return true
	}
	if f.count > 1 && c.half[1] > c.half[0] {
		c.slow = 1
	}
	return false
}

// solveNodes fills the values at a cell's nodes, to and fro.
func (f *surface) solveNodes(s *Solver, c *cell) bool {
	if f.passed == nil {
		f.passed = make([]float64, cellNodes*len(s.x))
	}
	last := 0
	for j := range alongSecond {
		for n := range alongFirst {
			i := n
			if j%2 == 1 {
				i = alongFirst - 1 - n
			}
			at := i + alongFirst*j
			if f.count == 1 && j > 0 {
				for o := range f.outputs {
					f.values[o*cellNodes+at] = f.values[o*cellNodes+i]
				}
				continue
			}
			f.set(s.u, [2]float64{c.middle[0] + c.half[0]*alongNodes[0][i], c.middle[1] + c.half[1]*alongNodes[1][j]})
			f.lead(s.x, i, last, j)
			if !s.solveNode() {
				return false
			}
			copy(f.passed[at*len(s.x):], s.x)
			last = i
			now := f.spare[:f.outputs]
			f.evaluate(s, now)
			for o, value := range now {
				f.values[o*cellNodes+at] = value
			}
		}
	}
	return true
}

// ahead is how many nodes before one lead to it, at most, by the polynomial through them.
const ahead = 3

// leading are, by port and node, the weights of the nodes before it along that port, the
// nearest first. Nodes lie alike from either end.
var leading = func() (list [maximumPorts][][]float64) {
	for port, nodes := range alongNodes {
		list[port] = make([][]float64, len(nodes))
		for n := 1; n < len(nodes); n++ {
			last := slices.Clone(nodes[max(0, n-ahead):n])
			slices.Reverse(last)
			list[port][n] = weights(last, nodes[n:n+1])[0]
		}
	}
	return list
}()

// lead takes the unknowns from those at the node that was solved last to where the nodes
// before one lead: of the first line those along it, else those of the lines before, and
// as they miss at the last node where that is in the same line.
func (f *surface) lead(x []float64, i, last, j int) {
	if j == 0 {
		if i > 0 {
			clear(x)
		}
		for k, w := range leading[0][i] {
			f.add(x, w, i-1-k)
		}
		return
	}
	if i == last {
		clear(x)
	}
	for k, w := range leading[1][j] {
		line := alongFirst * (j - 1 - k)
		f.add(x, w, i+line)
		if i != last {
			f.add(x, -w, last+line)
		}
	}
}

// add adds some times the unknowns at a node.
func (f *surface) add(x []float64, times float64, node int) {
	for i, v := range f.passed[node*len(x) : (node+1)*len(x)] {
		x[i] += times * v
	}
}

// solveNode iterates from x.
func (s *Solver) solveNode() bool {
	s.fixConstants()
	for range quickIterations {
		limited := s.linearise()
		copy(s.step, s.stamps.f)
		if s.jacobian.solveOnce(s.step) >= 0 {
			return false
		}
		worst := s.advance()
		if math.IsNaN(worst) {
			return false
		}
		if !limited && worst < nodeVolts {
			s.behind = true
			return true
		}
	}
	return false
}

// peaks returns what the devices have passed, and sets it to what is given.
func (s *Solver) peaks(set []maximum) []maximum {
	var list []maximum
	for i, d := range s.assembly.devices {
		var at *maximum
		switch d := d.(type) {
		case *bipolarLoad:
			at = &d.peak
		case *channelLoad:
			at = &d.peak
		case *diodeLoad:
			at = &d.peak
		}
		if set != nil {
			*at = set[i]
		}
		list = append(list, *at)
	}
	return list
}

// combination is a sum of unknowns.
func combination(row []term, x []float64) float64 {
	sum := 0.0
	for _, c := range row {
		sum += c.value * x[c.at]
	}
	return sum
}
