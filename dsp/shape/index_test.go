package shape

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestEveryXHasItsCell looks numbers up in laws over odd ranges, at random, at the
// knots and beside them.
func TestEveryXHasItsCell(t *testing.T) {
	rng := rand.New(rand.NewPCG(5, 6))
	for _, r := range []struct{ lo, hi float64 }{
		{-1, 1}, {-40, 40}, {-0.1, 0.3}, {1e-9, 3e-9}, {-1e6, 7}, {-7, 1e9 / 3}, {100, 101},
	} {
		width := r.hi - r.lo
		corner := r.lo + 0.377*width
		l, err := Fit(func(x float64) (float64, float64, error) {
			y, slope, err := softBand(0.05*width, 1e-4*width)(x - corner)
			return y, slope, err
		}, r.lo, r.hi, 1e-7*width)
		if err != nil {
			t.Fatal(err)
		}
		xs := []float64{r.lo, r.hi}
		for i := range l.cells {
			for _, x := range []float64{l.cells[i].start(), l.cells[i].end()} {
				xs = append(xs, x, math.Nextafter(x, r.lo), math.Nextafter(x, r.hi))
			}
		}
		for range 20000 {
			xs = append(xs, r.lo+(1.2*rng.Float64()-0.1)*width)
		}
		for _, x := range xs {
			c := &l.cells[l.index.find(x)]
			slack := 1e-9*c.half + 1e-15*max(math.Abs(r.lo), math.Abs(r.hi))
			switch {
			case c == &l.cells[0]:
				if x > r.lo+slack+1e-15*width {
					t.Fatalf("%g in [%g, %g] taken for below", x, r.lo, r.hi)
				}
			case c == &l.cells[len(l.cells)-1]:
				if x < r.hi-slack-1e-15*width {
					t.Fatalf("%g in [%g, %g] taken for above", x, r.lo, r.hi)
				}
			case math.Abs(x-c.middle) > c.half+slack:
				t.Fatalf("%g in [%g, %g]: cell from %g to %g", x, r.lo, r.hi, c.start(), c.end())
			}
		}
	}
}

// TestAntiderivatives takes the four from cell to cell by Gauss's rule: each must
// rise by the integral of the one before.
func TestAntiderivatives(t *testing.T) {
	l, err := Fit(softBand(0.6, 0.026), -10, 10, 1e-8)
	if err != nil {
		t.Fatal(err)
	}
	at := func(x float64) antiderivatives { return l.antiderivatives(l.index.find(x), x) }
	if z := at(0); math.Abs(z.first)+math.Abs(z.second)+math.Abs(z.third)+math.Abs(z.fourth) > 1e-18 {
		t.Errorf("%+v at 0", z)
	}
	for x := -12.0; x < 12; x += 0.0917 {
		const step = 0.0917
		a, b := at(x), at(x+step)
		var first, second, third, fourth float64
		const parts = 400
		for i := range parts {
			for k, node := range []float64{0.5 - outer, 0.5, 0.5 + outer} {
				w := []float64{5. / 18, 8. / 18, 5. / 18}[k] * step / parts
				u := x + (float64(i)+node)*step/parts
				f := at(u)
				first, second, third, fourth = first+w*l.swing(u), second+w*f.first, third+w*f.second, fourth+w*f.third
			}
		}
		for _, c := range []struct{ rise, want, scale float64 }{
			{b.first - a.first, first, 100}, {b.second - a.second, second, 1000}, {b.third - a.third, third, 10000}, {b.fourth - a.fourth, fourth, 100000},
		} {
			if math.Abs(c.rise-c.want) > 1e-14*c.scale {
				t.Fatalf("from %g: rises by %g, integral %g", x, c.rise, c.want)
			}
		}
	}
}
