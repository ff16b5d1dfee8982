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
func slowSegment(l *Law, p path) (mean, tilt float64) {
	const steps = 3000
	for i := range steps {
		for k, at := range []float64{0.5 - outer, 0.5, 0.5 + outer} {
			weight := []float64{5. / 18, 8. / 18, 5. / 18}[k] / steps
			s := (float64(i) + at) / steps
			f := l.swing(p.a + (p.b-p.a)*s - p.curve*s*(1-s)/2)
			mean += weight * f
			tilt += weight * (s - 0.5) * f
		}
	}
	return mean, tilt
}

// allowed returns the errors that segment may have beside that of the fit: what
// leap neglects at the two corners, each of which turns the slope by 1. Where the
// path curves too much for one leap, its halves have a quarter of the curve, and
// leap if it is a quarter of their length.
func allowed(p path) (mean, tilt float64) {
	d, curve := math.Abs(p.b-p.a), math.Abs(p.curve)
	if curve > 0.25*d {
		return curve / 8 / 894, curve / 8 / 894
	}
	if curve == 0 {
		return 0, 0
	}
	return 2 * curve * curve * curve / (895 * d * d), 2 * curve * curve / (894 * d)
}

// checkSegment compares the ways of segment with slowSegment.
func checkSegment(t *testing.T, l *Law, p path, tol float64) {
	t.Helper()
	mean, tilt := l.segment(p, l.index.find(p.a), l.index.find(p.b))
	wantMean, wantTilt := slowSegment(l, p)
	mostMean, mostTilt := allowed(p)
	if !(math.Abs(mean-wantMean) <= mostMean+tol) || !(math.Abs(tilt-wantTilt) <= mostTilt+tol) {
		t.Errorf("%+v: %g and %g, slowly %g and %g: off by %g and %g, allowed %g and %g", p,
			mean, tilt, wantMean, wantTilt, mean-wantMean, tilt-wantTilt, mostMean+tol, mostTilt+tol)
	}
}

func FuzzSegment(f *testing.F) {
	const tol = 1e-8
	l, err := Fit(softBand(0.6, 0.026), -10, 10, tol)
	if err != nil {
		f.Fatal(err)
	}
	for _, p := range []path{
		{0.1, 0.2, 0.01},
		{-3, 3, 0},
		{3, -3, 0.4},
		{0.6, 0.61, 1},
		{0.55, 0.65, 0.05},
		{9.9, 12, 0.1},
		{-30, 30, 10},
		{0.6, 0.6, 0},
		{0.6, 0.6, 0.3},
		{5, 5, -8},
		{0.7, 0.5, -0.08},
		{-2, 3, 0.01},
		{0.3, 2.5, -0.02},
		{0.3, 0.9, 0.003},
	} {
		f.Add(p.a, p.b, p.curve)
	}
	f.Fuzz(func(t *testing.T, a, b, curve float64) {
		p := path{math.Mod(a, 15), math.Mod(b, 15), math.Mod(curve, 15)}
		if !math.IsNaN(p.a + p.b + p.curve) {
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
					up := path{corner - s*d, corner + (1-s)*d, curve * d}
					checkSegment(t, l, up, 2e-7*d+1e-10)
					checkSegment(t, l, path{up.b, up.a, up.curve}, 2e-7*d+1e-10)
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
			p := path{a: low.end() - part*low.width()*(1-1e-9), b: high.start() + part*high.width()*(1-1e-9)}
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
	p := path{-0.4, 0.7, 0.3}
	mean, tilt := p.sampled(c, c)
	for _, s := range []float64{0, 0.2, 0.5, 0.9, 1} {
		first, second := p.split(s)
		m1, t1 := first.sampled(c, c)
		m2, t2 := second.sampled(c, c)
		m, u := combine(s, m1, t1, m2, t2)
		if math.Abs(m-mean) > 1e-14 || math.Abs(u-tilt) > 1e-14 {
			t.Errorf("split at %g: %g and %g, whole %g and %g", s, m, u, mean, tilt)
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
	between := func(i int) path {
		return path{at(i), at(i + 1), 0.5 * (at(i-1) - at(i) - at(i+1) + at(i+2))}
	}
	for i := 0; i+2 < len(x); i++ {
		m1, t1 := slowSegment(l, between(i-1))
		m2, t2 := slowSegment(l, between(i))
		e1, u1 := allowed(between(i - 1))
		e2, u2 := allowed(between(i))
		want := 0.5*(m1+m2) + t1 - t2 + l.rest
		most := tol + 0.5*(e1+e2) + u1 + u2
		if e := math.Abs(y[i+2] - want); !(e <= most) {
			t.Fatalf("sample %d is %g, slowly %g: off by %g, allowed %g", i, y[i+2], want, e, most)
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
