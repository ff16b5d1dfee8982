package audibility

import (
	"context"
	"fmt"
	"math"
	"reflect"
	"slices"
	"testing"

	"quietcross/dsp/hearing"
)

// wholly searches as [Examine] does, but renders all of the lattice.
func wholly(t *testing.T, c Case, o Options) Finding {
	t.Helper()
	f, err := examine(t.Context(), c, o, o.Standard, func(e *examiner) {
		e.draw(t.Context(), e.options.currents())
		e.cross(t.Context())
	})
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// unit is the d' of [patchy] for each that it is asked for, about.
func unit(t *testing.T, o Options) float64 {
	t.Helper()
	f, err := ExamineAt(t.Context(), patchy(func(float64) float64 { return 1e-3 }), []float64{1e-3}, o)
	if err != nil {
		t.Fatal(err)
	}
	return f.Curve[0].DPrime / 1e-3
}

// What is heard falls as the 1.5th power of the current, and rises over the limit once more
// far above, by a tenth and with flanks of the 1.9th power: the search finds all that the
// whole lattice finds, to the last digit, wherever on it the hump lies, with less than
// half of the renderings where there is none.
func TestDrawnFindsTheSame(t *testing.T) {
	o := DefaultOptions(1e-5, 1)
	limit, one := hearing.Sensitivity(o.Limit), unit(t, o)
	falls := func(q float64) float64 { return 3 * limit / one * math.Pow(1e-5/max(q, 1e-6), 1.5) }
	same := func(name string, c Case) (drawn, whole Finding) {
		drawn, whole = examined(t, c, o), wholly(t, c, o)
		if !reflect.DeepEqual(drawn.Crossings, whole.Crossings) || !reflect.DeepEqual(drawn.Threshold, whole.Threshold) {
			t.Errorf("%s: %+v, %+v, the whole lattice finds %+v, %+v", name, drawn.Crossings, drawn.Threshold, whole.Crossings, whole.Threshold)
		}
		return drawn, whole
	}
	for i := range 11 {
		centre := 1.7e-3 * math.Pow(10, float64(i)*0.17)
		_, whole := same(fmt.Sprintf("hump at %g A", centre), patchy(func(q float64) float64 {
			apart := math.Exp(-1.9 * math.Abs(math.Log(max(q, 1e-6)/centre)))
			return max(falls(q), 1.25*limit/one*apart)
		}))
		if n := len(whole.Crossings); n != 3 && n != 1 {
			t.Errorf("hump at %g A: %d crossings", centre, n)
		}
	}
	drawn, whole := same("no hump", patchy(falls))
	if 2*len(drawn.Curve) > len(whole.Curve) || 3*len(drawn.Curve) < len(whole.Curve) {
		t.Errorf("%d renderings, the whole lattice takes %d", len(drawn.Curve), len(whole.Curve))
	}
	if len(whole.Unrendered) != 0 {
		t.Errorf("the whole lattice has gaps: %+v", whole.Unrendered)
	}
	for _, q := range Lattice(o.Low, o.High, o.PerDecade) {
		_, there := drawn.place(q)
		inGap := slices.ContainsFunc(drawn.Unrendered, func(s Stretch) bool { return s.From < q && q < s.To })
		if there == inGap {
			t.Errorf("%g A: rendered %v, in a gap %v", q, there, inGap)
		}
	}
}

// Two neighbours are decided by the reserve of their distance, which was measured on the
// built-in stages (drawn.go): 3.2 for two steps, 5.0 for four, 12.6 for eight; and never by
// being heard, nor by no difference at all, nor beside no current.
func TestDecided(t *testing.T) {
	o := DefaultOptions(1e-5, 1)
	e := &examiner{options: o, limit: hearing.Sensitivity(o.Limit)}
	easy, _ := o.Heard.Interval(e.limit)
	at := func(step int, d float64) *Point { return &Point{Quiescent: math.Pow(10, float64(step)/5), DPrime: d} }
	for steps, reserve := range map[int]float64{1: 2.518, 2: 3.170, 4: 5.024, 8: 12.619} {
		for _, d := range []float64{0.99, 1.01} {
			edge := d * easy / reserve
			for _, other := range []float64{edge, edge / 1e3} {
				if e.decided(at(0, edge), at(steps, other)) != (d < 1) || e.decided(at(0, other), at(steps, edge)) != (d < 1) {
					t.Errorf("%d steps, d' %g and %g of %g", steps, edge, other, easy)
				}
			}
		}
	}
	low := easy / 1e6
	heard := func(p *Point, detection float64) *Point { p.Standard = &Standard{Detection: detection}; return p }
	for name, pair := range map[string][2]*Point{
		"heard": {at(0, 1e6), at(1, 1e6)}, "no difference": {at(0, 0), at(1, low)}, "no difference above": {at(0, low), at(1, 0)},
		"no current": {{DPrime: low}, at(1, low)}, "by the standard": {heard(at(0, low), 0.51), heard(at(1, low), 0.49)},
	} {
		if e.decided(pair[0], pair[1]) {
			t.Errorf("%s: decided", name)
		}
	}
	if !e.decided(heard(at(0, low), 0.49), heard(at(1, low), 0.48)) || !e.decided(heard(at(0, low), 0.49), at(1, low)) {
		t.Error("undecided by the standard on one side of one half")
	}
}

// Where the middle of a gap has no rendering, the others are tried.
func TestDrawnAroundFailures(t *testing.T) {
	o := DefaultOptions(1e-4, 1)
	c := faulty(func(q float64) bool { return q < 3.3e-3 })
	open := c.Open
	c.Open = func(ctx context.Context) ([][]float64, Render, error) {
		reference, render, err := open(ctx)
		return reference, func(ctx context.Context, q float64) (Rendering, error) {
			if q > 0 && q < 5e-4 || q > 9e-3 && q < 5e-2 || q > 0.3 {
				return Rendering{}, context.DeadlineExceeded
			}
			return render(ctx, q)
		}, err
	}
	drawn, whole := examined(t, c, o), wholly(t, c, o)
	if !reflect.DeepEqual(drawn, whole) || len(whole.Failures) == 0 {
		t.Errorf("%+v,\nthe whole lattice finds %+v", drawn, whole)
	}
}

// A point of a curve is itself; between two the logarithm of d' runs straight, and the bias
// with the logarithm of current; beyond, and where a rendering failed, there is nothing.
func TestAtOfACurve(t *testing.T) {
	f := Finding{
		Curve:    []Point{{Quiescent: 0, DPrime: 9}, {Quiescent: 1e-3, DPrime: 4, Bias: 1}, {Quiescent: 4e-3, DPrime: 0.25, Bias: 2}},
		Failures: []Failure{{Quiescent: 3e-3}},
	}
	if p, read, ok := f.At(2e-3); !ok || !read || math.Abs(p.DPrime-1) > 1e-12 || math.Abs(p.Bias-1.5) > 1e-12 || p.Detection != hearing.Detection(p.DPrime) || p.Quiescent != 2e-3 {
		t.Errorf("%+v, %v, %v", p, read, ok)
	}
	if p, read, ok := f.At(4e-3); !ok || read || !reflect.DeepEqual(p, f.Curve[2]) {
		t.Errorf("%+v, %v, %v", p, read, ok)
	}
	for _, q := range []float64{5e-4, 3e-3, 5e-3} {
		if p, _, ok := f.At(q); ok {
			t.Errorf("%g A: %+v", q, p)
		}
	}
}
