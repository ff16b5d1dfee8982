package audibility

import (
	"math"
	"testing"
)

// Closed forms: a monotone law has the correlation 1 or -1 whatever its shape;
// ranks 1, 2.5, 2.5, 4 against 1 to 4 give 4.5/√(4.5·5). The ten pairs are
// worked by hand: the squared differences of their ranks add up to 194, and Spearman's
// formula (without ties) gives 1 - 6·194/(10·99) = -29/165.
func TestSpearman(t *testing.T) {
	for _, c := range []struct {
		x, y []float64
		want float64
	}{
		{[]float64{1, 2, 3, 4}, []float64{1, 8, 27, 64}, 1},
		{[]float64{1, 2, 3, 4}, []float64{9, 7, 0, -100}, -1},
		{[]float64{1, 2, 2, 3}, []float64{10, 20, 30, 40}, 4.5 / math.Sqrt(4.5*5)},
		{
			[]float64{106, 100, 86, 101, 99, 103, 97, 113, 112, 110},
			[]float64{7, 27, 2, 50, 28, 29, 20, 12, 6, 17},
			-29.0 / 165,
		},
	} {
		got, ok := Spearman(c.x, c.y)
		if !ok || math.Abs(got-c.want) > 1e-12 {
			t.Errorf("%v and %v: %g, want %g", c.x, c.y, got, c.want)
		}
		back, _ := Spearman(c.y, c.x)
		if math.Abs(back-got) > 1e-15 {
			t.Errorf("not symmetric: %g and %g", got, back)
		}
	}
}

func TestSpearmanWithoutVariation(t *testing.T) {
	for _, c := range [][2][]float64{
		{nil, nil}, {{1, 2}, {1, 2}}, {{1, 1, 1}, {1, 2, 3}}, {{1, 2, 3}, {5, 5, 5}},
	} {
		if rho, ok := Spearman(c[0], c[1]); ok {
			t.Errorf("%v: %g", c, rho)
		}
	}
}
