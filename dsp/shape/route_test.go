package shape_test

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"quietcross/dsp/shape"
)

func TestRouteOfALinearLawIsADelay(t *testing.T) {
	for _, o := range []int{1, 2, 4, 8, 16, 32} {
		r := shape.NewRoute([]*shape.Law{shape.Linear(0.5)}, o)
		const n, cycles = 4096, 853 // 10 kHz at 48 kHz
		x := tone(1, cycles, 2*n, 0)
		y := make([]float64, 2*n)
		r.Process([][]float64{y}, x)
		want := tone(0.5, cycles, 2*n, float64(r.Latency()))
		for i := n; i < 2*n; i++ {
			if e := math.Abs(y[i] - want[i]); e > 0.5*5e-5 {
				t.Fatalf("%d times: sample %d off by %g", o, i, e)
			}
		}
	}
}

func TestRouteDoesNotSeeTheBlocks(t *testing.T) {
	l := mustFit(t, demoPairs()["1.2V"].law, -40, 40, 1e-6)
	laws := []*shape.Law{l, shape.Linear(1)}
	rng := rand.New(rand.NewPCG(1, 2))
	x := make([]float64, 3000)
	for i := range x {
		x[i] = 10 * rng.NormFloat64()
	}
	whole := [][]float64{make([]float64, len(x)), make([]float64, len(x))}
	shape.NewRoute(laws, 8).Process(whole, x)
	cut := [][]float64{make([]float64, len(x)), make([]float64, len(x))}
	r := shape.NewRoute(laws, 8)
	for at := 0; at < len(x); {
		end := min(len(x), at+rng.IntN(300))
		r.Process([][]float64{cut[0][at:end], cut[1][at:end]}, x[at:end])
		at = end
	}
	for i := range whole {
		if !slices.Equal(whole[i], cut[i]) {
			t.Errorf("law %d: the output depends on the blocks", i)
		}
	}
}
