package distortion

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/integrate/quad"
)

// gm is the metric by its definition, from the second derivative, by Gauss's rule on
// pieces that meet at 0, where a crossover law bends most.
func gm(second func(x float64) float64) float64 {
	const pieces = 64
	sum := 0.0
	for i := range pieces {
		sum += quad.Fixed(func(x float64) float64 {
			c, s := math.Cos(math.Pi*x/2), second(x)
			return c * c * s * s
		}, -1+2*float64(i)/pieces, -1+2*float64(i+1)/pieces, 20, quad.Legendre{}, 0)
	}
	return math.Sqrt(sum)
}

// Geddes & Lee's metric in closed form: x + a2·x² gives 2·a2, x + a3·x³ gives
// 6·a3·√(1/3 - 2/π²) = 2.16907233·a3.
func TestGm(t *testing.T) {
	for _, c := range []struct {
		name   string
		law    func(x float64) float64
		second func(x float64) float64
		want   float64
	}{
		{"square", func(x float64) float64 { return x + 0.1*x*x }, func(float64) float64 { return 0.2 }, 0.2},
		{"cube", func(x float64) float64 { return x + 0.1*x*x*x }, func(x float64) float64 { return 0.6 * x }, 0.216907233},
		{"line", func(x float64) float64 { return x }, func(float64) float64 { return 0 }, 0},
	} {
		if got := gm(c.second); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%s: %.10g, want %.10g", c.name, got, c.want)
		}
		y := make([]float64, 2049)
		for i := range y {
			y[i] = c.law(-1 + float64(i)/1024)
		}
		got, err := GmSampled(y)
		if err != nil || math.Abs(got-c.want) > 1e-6 {
			t.Errorf("%s sampled: %.8g (%v), want %.8g", c.name, got, err, c.want)
		}
	}
}

// The analytic and the sampled value agree on a smooth crossover law, and an
// ideal dead band is refused however finely it is sampled.
func TestGmOfCrossover(t *testing.T) {
	const w = 0.02
	law := func(x float64) float64 { return x - w*math.Tanh(x/w) }
	second := func(x float64) float64 {
		th := math.Tanh(x / w)
		return 2 * th * (1 - th*th) / w
	}
	exact := gm(second)
	sample := func(n int, f func(float64) float64) []float64 {
		y := make([]float64, n)
		for i := range y {
			y[i] = f(-1 + 2*float64(i)/float64(n-1))
		}
		return y
	}
	got, err := GmSampled(sample(8193, law))
	if err != nil || math.Abs(got/exact-1) > 1e-3 {
		t.Errorf("sampled %v (%v), analytic %v", got, err, exact)
	}
	band := func(x float64) float64 { return x - max(-0.1, min(0.1, x)) }
	for _, n := range []int{129, 1025, 16385} {
		if v, err := GmSampled(sample(n, band)); err == nil {
			t.Errorf("an ideal dead band of %d points gave %v", n, v)
		}
	}
	if _, err := GmSampled(sample(64, law)); err == nil {
		t.Error("64 points were accepted")
	}
}
