package shape_test

import (
	"fmt"
	"slices"
	"testing"

	"quietcross/dsp/resample/streamtest"
	"quietcross/dsp/shape"
)

// single is a Route of one law as a plain processor.
type single struct{ *shape.Route }

func (s single) Process(dst, src []float64) { s.Route.Process([][]float64{dst}, src) }

// lopsided is a law with an offset, so that silence is not 0.
func lopsided(t testing.TB) *shape.Law {
	p := demoPairs()["1.2V"]
	return mustFit(t, func(x float64) (float64, float64, error) {
		y, slope := p.at(x + 0.2)
		return y, slope, nil
	}, -40, 40, 4e-6)
}

func TestContract(t *testing.T) {
	laws := map[string]*shape.Law{
		"pair":   lopsided(t),
		"linear": shape.Linear(0.7),
	}
	for name, l := range laws {
		rest := l.At(0)
		t.Run(name+" shaper", func(t *testing.T) {
			streamtest.Check(t, streamtest.Case{
				New: func() streamtest.Processor { return shape.NewShaper(l) },
				Dst: 1, Src: 1, Memory: 9, InPlace: true, Rest: rest,
			})
		})
		for _, o := range []int{1, 8, 32} {
			t.Run(fmt.Sprint(name, " branch ", o), func(t *testing.T) {
				streamtest.Check(t, streamtest.Case{
					New: func() streamtest.Processor { return shape.NewBranch(l, o) },
					Dst: 1, Src: o, Memory: 260, Rest: rest,
				})
			})
			t.Run(fmt.Sprint(name, " route ", o), func(t *testing.T) {
				streamtest.Check(t, streamtest.Case{
					New: func() streamtest.Processor { return single{shape.NewRoute([]*shape.Law{l}, o)} },
					Dst: 1, Src: 1, Memory: 500, Rest: rest,
				})
			})
		}
	}
	t.Run("source", func(t *testing.T) {
		streamtest.Check(t, streamtest.Case{
			New: func() streamtest.Processor { return shape.NewSource(8) },
			Dst: 8, Src: 1, Memory: 260,
		})
	})
}

// TestRouteIsItsParts runs a Source and Branches by hand.
func TestRouteIsItsParts(t *testing.T) {
	laws := []*shape.Law{lopsided(t), shape.Linear(1), lawOf(t, demoPairs()["unbiased"])}
	x := programme(2000, 4)
	want := make([][]float64, len(laws))
	for i := range want {
		want[i] = make([]float64, len(x))
	}
	r := shape.NewRoute(laws, 8)
	r.Process(want, x)
	source := shape.NewSource(8)
	high := make([]float64, 8*len(x))
	source.Process(high, x)
	for i, l := range laws {
		b := shape.NewBranch(l, 8)
		got := make([]float64, len(x))
		b.Process(got, high)
		if !slices.Equal(got, want[i]) {
			t.Errorf("law %d: the route differs from its parts", i)
		}
		if sum := source.Latency() + b.Latency(); sum != 8*r.Latency() {
			t.Errorf("law %d: latencies of the parts sum up to %d high-rate samples, route has %d", i, sum, 8*r.Latency())
		}
	}
}

// TestBranchRenews: a branch that had another law and a past is as a new one.
func TestBranchRenews(t *testing.T) {
	source := shape.NewSource(8)
	x := programme(2000, 4)
	high := make([]float64, 8*len(x))
	source.Process(high, x)
	used := shape.NewBranch(lawOf(t, demoPairs()["unbiased"]), 8)
	used.Process(make([]float64, len(x)), high)
	l := lopsided(t)
	used.Renew(l)
	got, want := make([]float64, len(x)), make([]float64, len(x))
	used.Process(got, high)
	shape.NewBranch(l, 8).Process(want, high)
	if !slices.Equal(got, want) {
		t.Error("a renewed branch differs from a new one")
	}
}

func TestRoutePanicsOnShapes(t *testing.T) {
	r := shape.NewRoute([]*shape.Law{shape.Linear(1)}, 8)
	x := make([]float64, 10)
	for name, dst := range map[string][][]float64{
		"too few": {}, "too many": {x, x}, "too short": {x[:9]},
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: accepted", name)
				}
			}()
			r.Process(dst, x)
		}()
	}
}
