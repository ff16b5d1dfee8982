package shape

import (
	"math"
	"testing"
)

// TestCellsServeBeyondTheirEnds: wherever a cell says that it serves it is the law within
// the tolerance of the fit, where it is not the cell of the place itself; most cells do so
// beyond their ends, and none over a corner.
func TestCellsServeBeyondTheirEnds(t *testing.T) {
	const tol, corner = 1e-8, 2.5
	soft := softBand(0.6, 0.026)
	l, err := Fit(func(x float64) (y, slope float64, err error) {
		y, slope, err = soft(x)
		if x > corner {
			return y + 0.3*(x-corner), slope + 0.3, err
		}
		return y, slope, err
	}, -10, 10, tol)
	if err != nil {
		t.Fatal(err)
	}
	further := 0
	for i := 1; i < len(l.cells)-1; i++ {
		c := &l.cells[i]
		reach := math.Sqrt(c.reach)
		if reach > c.half {
			further++
		}
		if c.middle < corner && c.middle+reach > corner+1e-9 {
			t.Errorf("the cell from %g to %g serves to %g, over the corner", c.start(), c.end(), c.middle+reach)
		}
		for _, side := range []float64{-1, 1} {
			end := c.middle + side*c.half
			for share := 0.125; share <= 1; share += 0.125 {
				x := end + side*share*(reach-c.half)
				within := l.within.tolerance(end)
				// Between the places that are looked at it may be somewhat more.
				if miss := math.Abs(c.at(x) - l.swing(x)); miss > 1.5*within {
					t.Errorf("the cell from %g to %g is off by %g at %g, tolerance %g", c.start(), c.end(), miss, x, within)
				}
			}
		}
	}
	if cells := l.Cells(); further < cells/2 {
		t.Errorf("%d of %d cells serve beyond their ends", further, cells)
	}
}
