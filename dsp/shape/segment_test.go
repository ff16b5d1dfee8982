package shape

import (
	"math"
	"math/rand/v2"
	"testing"
)

// softBand is a dead band of ±d with corners rounded over w, in closed form.
func softBand(d, w float64) func(x float64) (y, slope float64, err error) {
	ramp := func(u float64) (y, slope float64) {
		if u > 0 {
			e := math.Exp(-u / w)
			return u + w*math.Log1p(e), 1 / (1 + e)
		}
		e := math.Exp(u / w)
		return w * math.Log1p(e), e / (1 + e)
	}
	return func(x float64) (y, slope float64, err error) {
		up, rise := ramp(x - d)
		down, fall := ramp(-x - d)
		return up - down, rise + fall, nil
	}
}

// slowSegment is what segment promises, by Gauss's rule of three on 3000 steps.
func slowSegment(l *Law, p path) (m moments) {
	const steps = 3000
	for i := range steps {
		for k, at := range []float64{0.5 - outer, 0.5, 0.5 + outer} {
			s := (float64(i) + at) / steps
			f := []float64{5. / 18, 8. / 18, 5. / 18}[k] / steps * l.swing(p.at(s))
			v := s - 0.5
			m.m0 += f
			m.m1 += f * v
			m.m2 += f * v * v
			m.m3 += f * v * v * v
		}
	}
	return m
}

// allowed returns the errors that each moment may have beside that of the fit: what leap
// neglects at the two corners, each of which turns the slope by 1, and what three points
// miss of the third moment of a bend, 1/448 - 0.15² times a sixth.
func allowed(p path) moments {
	d, curve, bend := math.Abs(p.b-p.a), math.Abs(p.curve), math.Abs(p.bend)
	if d == 0 {
		return moments{m3: 6e-5 * bend}
	}
	// Halves that are short enough for a leap have r and t of at most 1/64 and 1/32, and add
	// by their length.
	r, t := min(curve/d, 1./64), min(bend/d, 1./32)
	return moments{
		m0: d * (r*r*r + r*t + t*t) / 400,
		m1: d * (r*r + r*t + t*t) / 400,
		m2: d * (r*r + t) / 400,
		m3: d*(r+t)/400 + 6e-5*bend,
	}
}

// missed is what three points miss of the integral of v⁶: 1/448 - 5/9·0.15³.
const missed = 1./448 - 5./9*0.15*0.15*0.15

// power is the maximum over a path of the Taylor coefficient of v to the n of the law along
// it, by differences.
func (l *Law) power(p path, n int) (most float64) {
	const parts = 16
	var d [parts + 1]float64
	for i := range d {
		d[i] = l.swing(p.at(float64(i) / parts))
	}
	scale := 1.0
	for k := range n {
		for i := range parts - k {
			d[i] = d[i+1] - d[i]
		}
		scale *= parts / float64(k+1)
	}
	for _, v := range d[:parts+1-n] {
		most = max(most, math.Abs(v)*scale)
	}
	return most
}

// checkSegment compares the ways of segment with slowSegment.
func checkSegment(t *testing.T, l *Law, p path, tol float64) {
	t.Helper()
	i, j := l.index.find(p.a), l.index.find(p.b)
	got, want, most := l.segment(p, i, j), slowSegment(l, p), allowed(p)
	if i == j || max(i-j, j-i) == 1 && l.cells[min(i, j)].joins {
		most.m2 += missed * l.power(p, 4)
		most.m3 += missed * l.power(p, 3)
	}
	for k, c := range [][3]float64{{got.m0, want.m0, most.m0}, {got.m1, want.m1, most.m1}, {got.m2, want.m2, most.m2}, {got.m3, want.m3, most.m3}} {
		if !(math.Abs(c[0]-c[1]) <= c[2]+tol) {
			t.Errorf("%+v: moment %d is %g, slowly %g: off by %g, allowed %g", p, k, c[0], c[1], c[0]-c[1], c[2]+tol)
		}
	}
}

func FuzzSegment(f *testing.F) {
	const tol = 1e-8
	l, err := Fit(softBand(0.6, 0.026), -10, 10, tol)
	if err != nil {
		f.Fatal(err)
	}
	for _, p := range []path{
		{0.1, 0.2, 0.01, 0},
		{-3, 3, 0, 0},
		{-3, 3, 0, 0.05},
		{3, -3, 0.4, -0.3},
		{0.6, 0.61, 1, 0.2},
		{0.55, 0.65, 0.05, 0.01},
		{9.9, 12, 0.1, 0},
		{-30, 30, 10, 3},
		{0.6, 0.6, 0, 0},
		{0.6, 0.6, 0, 4},
		{0.6, 0.6, 0.3, -1},
		{5, 5, -8, 2},
		{0.7, 0.5, -0.08, 0.02},
		{-2, 3, 0.01, -0.01},
		{0.3, 2.5, -0.02, 0.05},
		{0.3, 0.9, 0.003, 0},
	} {
		f.Add(p.a, p.b, p.curve, p.bend)
	}
	f.Fuzz(func(t *testing.T, a, b, curve, bend float64) {
		p := path{math.Mod(a, 15), math.Mod(b, 15), math.Mod(curve, 15), math.Mod(bend, 15)}
		if !math.IsNaN(p.a + p.b + p.curve + p.bend) {
			checkSegment(t, l, p, tol)
		}
	})
}

// TestSegmentAtACorner takes paths about a corner between two wide cells, and one
// amid the narrowest.
func TestSegmentAtACorner(t *testing.T) {
	for _, corner := range []float64{0, 0.3} {
		l, err := Fit(func(x float64) (float64, float64, error) {
			if x < corner {
				return 0, 0, nil
			}
			return x - corner, 1, nil
		}, -1, 1, 1e-9)
		if err != nil {
			t.Fatal(err)
		}
		for _, d := range []float64{1e-9, 1e-5, 1e-2, 0.1, 0.7} {
			for _, s := range []float64{0, 1e-3, 0.11, 0.5, 0.8} {
				for _, curve := range []float64{0, 0.01, -0.2, 0.9, -3, 30} {
					for _, bend := range []float64{0, 0.02, -0.5, 20} {
						up := path{corner - s*d, corner + (1-s)*d, curve * d, bend * d}
						checkSegment(t, l, up, 2e-7*d+1e-10)
						checkSegment(t, l, path{up.b, up.a, up.curve, up.bend}, 2e-7*d+1e-10)
					}
				}
			}
		}
	}
}

// TestSegmentOverEveryKnot takes paths over the whole of two neighbouring cells and
// over parts of them. The fit's own tolerance at the knot is tol/10·|x|.
func TestSegmentOverEveryKnot(t *testing.T) {
	const tol = 1e-9
	l, err := Fit(softBand(0.6, 0.026), -10, 10, tol)
	if err != nil {
		t.Fatal(err)
	}
	for i := 1; i+2 < len(l.cells); i++ {
		low, high := &l.cells[i], &l.cells[i+1]
		for _, part := range []float64{1, 0.9, 0.5, 0.1} {
			p := path{a: low.end() - part*low.width*(1-1e-9), b: high.start() + part*high.width*(1-1e-9)}
			checkSegment(t, l, p, 4*tol/10*max(math.Abs(high.start()), 0.01))
		}
	}
}

// TestSplitPathsAgree: within one cell every way of splitting gives the same, and
// for a law of the second order the rule is exact.
func TestSplitPathsAgree(t *testing.T) {
	l, err := Fit(func(x float64) (float64, float64, error) {
		return x - x*x/9, 1 - 2*x/9, nil
	}, -1, 1, 1e-9)
	if err != nil {
		t.Fatal(err)
	}
	c := &l.cells[1]
	p := path{-0.4, 0.7, 0.3, 0}
	whole := p.sampled(c, c)
	for _, s := range []float64{0, 0.2, 0.5, 0.9, 1} {
		first, second := p.split(s)
		m := combine(s, first.sampled(c, c), second.sampled(c, c))
		if math.Abs(m.m0-whole.m0) > 1e-14 || math.Abs(m.m1-whole.m1) > 1e-14 {
			t.Errorf("split at %g: %+v, whole %+v", s, m, whole)
		}
	}
}

// checkShaper compares the shaper's output for x with the slow integrals.
func checkShaper(t *testing.T, l *Law, x []float64, tol float64) {
	t.Helper()
	y := make([]float64, len(x))
	NewShaper(l).Process(y, x)
	at := func(i int) float64 {
		if i < 0 {
			return 0
		}
		return x[i]
	}
	along := func(i int) path {
		p, _ := between([]float64{at(i - 2), at(i - 1), at(i), at(i + 1), at(i + 2), at(i + 3)})
		return p
	}
	for i := 0; i+latency < len(x); i++ {
		want, most := l.rest, tol
		for k := range boxes { // the segment that begins one sample later first
			p := along(i + 1 - k)
			want += slowSegment(l, p).shares()[k]
			a := allowed(p)
			most += a.m0 + a.m1 + a.m2 + a.m3
		}
		if e := math.Abs(y[i+latency] - want); !(e <= most) {
			t.Fatalf("sample %d is %g, slowly %g: off by %g, allowed %g", i, y[i+latency], want, e, most)
		}
	}
}

// TestShaperTakesEveryWay sends a signal that jumps, creeps and turns about the
// corners of a law.
func TestShaperTakesEveryWay(t *testing.T) {
	l, err := Fit(softBand(0.6, 0.026), -10, 10, 1e-8)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(7, 9))
	x := make([]float64, 600)
	for i := range x {
		switch rng.IntN(4) {
		case 0:
			x[i] = 12 * rng.NormFloat64()
		case 1:
			x[i] = 0.6 + 0.01*rng.NormFloat64()
		default:
			x[i] = x[max(i-1, 0)] + 0.001*rng.NormFloat64()
		}
	}
	checkShaper(t, l, x, 4e-8)
}

// TestShaperTurnsAtACorner sends a signal that turns just past a corner that lies
// between its samples and in no cell.
func TestShaperTurnsAtACorner(t *testing.T) {
	l, err := Fit(func(x float64) (float64, float64, error) { return math.Abs(x), math.Copysign(1, x), nil }, -1, 1, 1e-8)
	if err != nil {
		t.Fatal(err)
	}
	var x []float64
	for k := range 60 {
		x = append(x, 0.06, 0.0001*float64(k), 0.00007*float64(k), 0.05, 0.4)
	}
	checkShaper(t, l, x, 4e-8)
}
