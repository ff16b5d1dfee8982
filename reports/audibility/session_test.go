package audibility

import (
	"context"
	"math"
	"reflect"
	"sync"
	"testing"
	"time"

	"quietcross/dsp/hearing"
)

// counted is a case of which each current is counted that is rendered.
func counted(bad func(float64) bool, renderings map[float64]int) Case {
	c := faulty(bad)
	open := c.Open
	var mutex sync.Mutex
	c.Open = func(ctx context.Context) ([][]float64, Render, error) {
		renderings[-1]++ // the reference
		reference, render, err := open(ctx)
		return reference, func(ctx context.Context, quiescent float64) (Rendering, error) {
			mutex.Lock()
			renderings[quiescent]++
			mutex.Unlock()
			return render(ctx, quiescent)
		}, err
	}
	return c
}

// A session finds what one search finds, also where its range was widened, adds the points
// that ExamineAt predicts, and renders nothing twice.
func TestSessionIsASearch(t *testing.T) {
	bad := func(q float64) bool { return q < 7e-3 }
	renderings := map[float64]int{}
	narrow := DefaultOptions(1e-2, 0.1)
	s := NewSession([]Case{counted(bad, renderings)}, narrow)
	first, err := s.Search(t.Context())
	if err != nil || first[0].Threshold == nil || first[0].Threshold.Low != 0 {
		t.Fatalf("%v, %+v", err, first)
	}
	s.Widen(1e-4)
	wide, err := s.Search(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	o := narrow
	o.Low = 1e-4
	if whole := examined(t, faulty(bad), o); !reflect.DeepEqual(wide[0], whole) {
		t.Errorf("%+v,\nat once %+v", wide[0], whole)
	}
	more, err := s.At(t.Context(), []float64{0.02, 1e-4, 0.05})
	if err != nil || len(more[0].Curve) != len(wide[0].Curve)+2 {
		t.Fatalf("%v, %d points, before %d", err, len(more[0].Curve), len(wide[0].Curve))
	}
	at, err := ExamineAt(t.Context(), faulty(bad), []float64{0.02}, o)
	if err != nil {
		t.Fatal(err)
	}
	for i, p := range more[0].Curve {
		if i > 0 && p.Quiescent <= more[0].Curve[i-1].Quiescent {
			t.Errorf("point %d out of order", i)
		}
		if p.Quiescent == 0.02 && !reflect.DeepEqual(p, at.Curve[0]) {
			t.Errorf("%+v, alone %+v", p, at.Curve[0])
		}
	}
	for quiescent, n := range renderings {
		if n != 1 {
			t.Errorf("%g A was rendered %d times", quiescent, n)
		}
	}
	if alone, err := NewSession([]Case{faulty(bad)}, o).At(t.Context(), []float64{0.02}); err != nil || !reflect.DeepEqual(alone[0], at) {
		t.Errorf("%v, %+v, want %+v", err, alone, at)
	}
}

// Between points a curve is a straight line of logarithms; the worst of a range may lie at a
// point or at an end, and nothing is read beyond the curve.
func TestReadOfACurve(t *testing.T) {
	f := Finding{Curve: []Point{{Quiescent: 0, DPrime: 9}, {Quiescent: 1e-3, DPrime: 4}, {Quiescent: 4e-3, DPrime: 0.25}, {Quiescent: 8e-3, DPrime: 0.5}, {Quiescent: 16e-3, DPrime: 0.1}}}
	for _, c := range []struct{ from, to, dPrime, at float64 }{
		{2e-3, 3e-3, 1, 2e-3}, {3e-3, 9e-3, 0.5, 8e-3}, {8e-3, 16e-3, 0.5, 8e-3}, {3.9e-3, 5e-3, 0.25 * 5 / 4, 5e-3}, {5e-4, 2e-3, 9, 5e-4},
	} {
		d, at, ok := f.Read(c.from, c.to)
		if !ok || math.Abs(d/c.dPrime-1) > 1e-9 || at != c.at {
			t.Errorf("%g to %g A: d' %g at %g A, %v, want %g at %g", c.from, c.to, d, at, ok, c.dPrime, c.at)
		}
	}
	if _, _, ok := f.Read(8e-3, 17e-3); ok {
		t.Error("read beyond the curve")
	}
}

// Workers that have no case of their own render another current of one: here none is
// rendered before two are asked for.
func TestSpareWorkersRender(t *testing.T) {
	c := faulty(func(q float64) bool { return q < 7e-3 })
	open := c.Open
	both, asked := make(chan struct{}), make(chan struct{}, 1)
	var once sync.Once
	c.Open = func(ctx context.Context) ([][]float64, Render, error) {
		reference, render, err := open(ctx)
		return reference, func(ctx context.Context, quiescent float64) (Rendering, error) {
			select {
			case asked <- struct{}{}:
			default:
				once.Do(func() { close(both) })
			}
			select {
			case <-both:
			case <-time.After(10 * time.Second):
				t.Error("the second current waits for the first")
			}
			return render(ctx, quiescent)
		}, err
	}
	o := DefaultOptions(1e-3, 0.1)
	o.Workers = 2
	findings, err := Run(t.Context(), []Case{c}, o)
	if err != nil || findings[0].Threshold == nil {
		t.Fatalf("%v, %+v", err, findings)
	}
}

// Decide renders where the curve is undecided and beyond its ends, and nothing elsewhere.
func TestDecideRendersWhereItMust(t *testing.T) {
	o := DefaultOptions(1e-4, 1)
	limit, one := hearing.Sensitivity(o.Limit), unit(t, o)
	s := NewSession([]Case{patchy(func(q float64) float64 { return limit / one * math.Pow(1e-3/max(q, 1e-5), 1.5) })}, o)
	before, err := s.Search(t.Context())
	if err != nil || before[0].Threshold == nil {
		t.Fatalf("%v, %+v", err, before)
	}
	after, err := s.Decide(t.Context(), []float64{2e-4, 0.1234, 1.5})
	if err != nil {
		t.Fatal(err)
	}
	for q, rendered := range map[float64]bool{2e-4: true, 0.1234: false, 1.5: true} {
		if _, read, ok := after[0].At(q); !ok || read == rendered {
			t.Errorf("%g A: %v, read %v", q, ok, read)
		}
	}
	all, err := s.At(t.Context(), []float64{0.1234})
	if err != nil {
		t.Fatal(err)
	}
	was, _, _ := after[0].At(0.1234)
	is, read, ok := all[0].At(0.1234)
	if !ok || read || math.Abs(was.DPrime/is.DPrime-1) > 0.1 {
		t.Errorf("d' %g is rendered: %v, and was read as %g", is.DPrime, !read, was.DPrime)
	}
}
