package network

import (
	"math"
	"math/rand/v2"
	"testing"

	"quietcross/stage/device"
)

// twice steps the same watched circuit with a surface and, every step solved, without one.
func twice(t *testing.T, s *Solver, in Source, out Node, signal func(float64) float64, samples int) (with, without []float64, steps Steps) {
	t.Helper()
	if err := s.Solve(); err != nil {
		t.Fatal(err)
	}
	deliver := func(solved bool) (list []float64, steps Steps) {
		tr := s.Transient(Samples * usual.sample)
		tr.Watch(in, out)
		if solved {
			tr.AfterEach(func(*Solver, Quadrature) {})
		}
		var under [Samples]float64
		for i := 0; i < samples; i += Samples {
			for j := range Samples - 1 {
				tr.SetInside(j, signal(float64(i+1+j)*usual.sample))
			}
			tr.Set(in, signal(float64(i+Samples)*usual.sample))
			if err := tr.Step(); err != nil {
				t.Fatal(err)
			}
			tr.Under(&under)
			list = append(list, under[:]...)
		}
		return list, tr.Steps()
	}
	without, all := deliver(true)
	if all.Read != 0 {
		t.Errorf("%d steps were read where each should be solved", all.Read)
	}
	with, steps = deliver(false)
	return with, without, steps
}

// surfaced are circuits with surfaces.
func surfaced() map[string]struct {
	make func() (*Solver, Source, Node)
	peak float64
} {
	p := handPair{is: 1e-13, vt: 0.025852, re: 0.22, bias: 1.3}
	unbiased := p
	unbiased.bias = 0
	coil := speaker
	coil.Henries = 0.3e-3
	return map[string]struct {
		make func() (*Solver, Source, Node)
		peak float64
	}{
		"loudspeaker": {func() (*Solver, Source, Node) {
			return transientPair(p, 30, func(c *Circuit, out Node) { c.Add(Loudspeaker{A: out, SpeakerLaw: speaker}) })
		}, 17},
		"unbiased, voice coil": {func() (*Solver, Source, Node) {
			return transientPair(unbiased, 30, func(c *Circuit, out Node) { c.Add(Loudspeaker{A: out, SpeakerLaw: coil}) })
		}, 17},
		"loop": {func() (*Solver, Source, Node) { return feedbackPair(p, 2e4, 3e6, 12, 8) }, 1.2},
	}
}

// fadedTone is a tone of 997 Hz that fades in.
func fadedTone(peak float64) func(float64) float64 {
	return func(at float64) float64 { return peak * min(1, at/5e-3) * math.Sin(2*math.Pi*997*at+0.4) }
}

// TestSurfaceAgreesWithSolver renders tones with steps read from surfaces and with every step
// solved: most steps were read, and up to 20 kHz the two differ by no more than either is
// wrong by. Which step is split how often turns on the last digits, and where one of the
// two splits a step that the other takes whole they differ by as much;
// TestCellsHoldTheSolution tells what the surfaces themselves leave.
func TestSurfaceAgreesWithSolver(t *testing.T) {
	for name, row := range surfaced() {
		s, in, out := row.make()
		const samples = 40000
		with, without, steps := twice(t, s, in, out, fadedTone(row.peak), samples)
		e := usual.inBand(with, without, samples/2)
		t.Logf("%s: %.1f dB, %+v", name, e, steps)
		bar := -121.0
		if name == "unbiased, voice coil" {
			bar = -113
		}
		if !(e < bar) {
			t.Errorf("%s: %.1f dB, bar %g dB", name, e, bar)
		}
		if steps.Read < 9*steps.Taken/10 {
			t.Errorf("%s: of %d steps %d were read", name, steps.Taken, steps.Read)
		}
	}
}

// TestCellsHoldTheSolution solves at random points of the cells that a tone has had made, at
// every depth of splitting: what they return there is within three times what they were
// estimated to leave, or rounding.
func TestCellsHoldTheSolution(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	for name, row := range surfaced() {
		s, in, out := row.make()
		if err := s.Solve(); err != nil {
			t.Fatal(err)
		}
		tr := s.Transient(Samples * usual.sample)
		tr.Watch(in, out)
		signal := fadedTone(row.peak)
		for i := 0; i < 30000; i += Samples {
			for j := range Samples {
				tr.SetInside(j, signal(float64(i+1+j)*usual.sample))
			}
			tr.Set(in, signal(float64(i+Samples)*usual.sample))
			if err := tr.Step(); err != nil {
				t.Fatal(err)
			}
		}
		tried, beyond, worst := 0, 0, 0.0
		for f := tr; f != nil && f.surface != nil; f = f.fine {
			for _, tile := range f.surface.tiles {
				tile.each(func(c *cell) {
					z := c.middle
					for i := range z {
						z[i] += c.half[i] * (2*rng.Float64() - 1)
					}
					if f.surface.count == 1 {
						z[1] = 0
					}
					copy(f.solver.x, c.near)
					f.solver.resetLoads()
					f.surface.set(f.solver.u, z)
					if !f.solver.solveNode() {
						t.Fatalf("%s: no solution at %g", name, z)
					}
					got, want := make([]float64, len(f.seen)), make([]float64, len(f.seen))
					c.read(got, z)
					f.surface.evaluate(f.solver, want)
					for i := range got {
						tried++
						e := math.Abs(got[i] - want[i])
						if over := e / (3*c.wrong[i] + 1e-10*max(1, math.Abs(want[i]))); over > 1 {
							beyond++
							worst = max(worst, over)
						}
					}
				})
			}
		}
		t.Logf("%s: of %d values %d are beyond, by %.2g times at most", name, tried, beyond, worst)
		if tried < 100 || beyond > 0 {
			t.Errorf("%s: of %d values %d are beyond, by %.2g times at most", name, tried, beyond, worst)
		}
	}
}

// each calls a function for every part of a cell that has polynomials.
func (c *cell) each(f func(*cell)) {
	switch {
	case c == nil:
	case c.halves[0] != nil:
		c.halves[0].each(f)
		c.halves[1].each(f)
	case c.polynomials != nil:
		f(c)
	}
}

// TestPorts checks how many ports circuits have by inspection: a loudspeaker of three stores is
// one, the signal another; in a loop both feed the amplifier's inner node alone; a
// resistance alone leaves the signal; and three capacitors behind each other, each with a
// diode of its own, are too many.
func TestPorts(t *testing.T) {
	p := handPair{is: 1e-13, vt: 0.025852, re: 0.22, bias: 1.3}
	law := speaker
	law.Henries = 0.3e-3
	ladder := func() (*Solver, Source, Node) {
		c := New()
		at, in := c.Drive("in", 0)
		for i := range 3 {
			next := c.Node(string(rune('a' + i)))
			c.Add(Resistor{at, next, 100}, Capacitor{A: next, B: Ground, Farads: 1e-6}, &Diode{Anode: next, Cathode: Ground, Law: device.NewDiode(1e-14, 0.0259)})
			at = next
		}
		return c.Compile(), in, at
	}
	for name, row := range map[string]struct {
		make func() (*Solver, Source, Node)
		want int
	}{
		"resistor": {func() (*Solver, Source, Node) {
			return transientPair(p, 30, func(c *Circuit, out Node) { c.Add(Resistor{out, Ground, 8}) })
		}, 1},
		"loudspeaker": {func() (*Solver, Source, Node) {
			return transientPair(p, 30, func(c *Circuit, out Node) { c.Add(Loudspeaker{A: out, SpeakerLaw: law}) })
		}, 2},
		"loop":   {func() (*Solver, Source, Node) { return feedbackPair(p, 2e4, 3e6, 12, 8) }, 1},
		"ladder": {ladder, 0},
	} {
		s, in, out := row.make()
		if err := s.Solve(); err != nil {
			t.Fatal(err)
		}
		tr := s.Transient(5e-6)
		tr.Watch(in, out)
		tr.Set(in, 0)
		if err := tr.Step(); err != nil {
			t.Fatal(err)
		}
		got := 0
		if tr.surface != nil {
			got = tr.surface.count
		}
		if got != row.want {
			t.Errorf("%s: %d ports, want %d", name, got, row.want)
		}
	}
}

// TestNodesLeadToTheNext checks that a node's unknowns are led to exactly, from nodes before
// it, where they are parabolas along each port.
func TestNodesLeadToTheNext(t *testing.T) {
	f := newSurfaceOf(ports{count: 2}, 1, nil)
	f.passed = make([]float64, cellNodes)
	at := func(i, j int) float64 {
		return parabola(alongNodes[0][i]) + parabola(-2*alongNodes[1][j])
	}
	for j := range alongSecond {
		for i := range alongFirst {
			f.passed[i+alongFirst*j] = at(i, j)
		}
	}
	for j := range alongSecond {
		for i := range alongFirst {
			for _, last := range []int{i - 1, i, i + 1} {
				if last < 0 || last >= alongFirst || j == 0 && (i < ahead || last != i-1) || last == i && j < ahead {
					continue
				}
				x := []float64{at(last, j)}
				if last == i {
					x[0] = at(i, j-1)
				}
				f.lead(x, i, last, j)
				within(t, "led to", x[0], at(i, j), 1e-12)
			}
		}
	}
}

// TestPolynomials checks that a cell returns any polynomial of its degrees, to rounding, and
// tells of one beyond them.
func TestPolynomials(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	f := newSurfaceOf(ports{count: 2}, 1, nil)
	c := newCell([2]float64{3, -1}, [2]float64{0.5, 2})
	fill := func(g func(x, y float64) float64) {
		for j, y := range alongNodes[1] {
			for i, x := range alongNodes[0] {
				f.values[i+alongFirst*j] = g(x, y)
			}
		}
		f.fit(c, []float64{1e-14})
	}
	within := func(x, y float64) float64 { return 1 + x*(2-x*x*x*x*x*x) - 3*y*y*y*y*(1+x) }
	fill(within)
	var got [1]float64
	for range 50 {
		x, y := 2*rng.Float64()-1, 2*rng.Float64()-1
		c.read(got[:], [2]float64{3 + 0.5*x, -1 + 2*y})
		if want := within(x, y); !(math.Abs(got[0]-want) < 1e-13) {
			t.Errorf("at %g, %g: %g, want %g", x, y, got[0], want)
		}
	}
	fill(func(x, y float64) float64 { return math.Abs(x-0.3) + y })
	if !(c.wrong[0] > 1e-2) || c.slow != 0 {
		t.Errorf("a kink across the first port leaves %g, falling slower along port %d", c.wrong[0], c.slow)
	}
}
