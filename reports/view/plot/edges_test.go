package plot

import "testing"

// Steps are the least of 1, 2 and 5 times a power of ten that keeps the room, with minor
// ticks at fifths, fourths, fifths.
func TestEdgesOfSteps(t *testing.T) {
	for _, c := range []struct {
		room float64 // px of 100 that stand for 10
		step float64
		into int
	}{{10, 1, 5}, {10.1, 2, 4}, {19.9, 2, 4}, {20.1, 5, 5}, {30, 5, 5}, {49.9, 5, 5}, {50.1, 10, 5}, {99, 10, 5}} {
		if step, into := (Axis{Lo: 0, Hi: 10}).step(100, c.room); step != c.step || into != c.into {
			t.Errorf("room of %g: steps of %g into %d, want %g into %d", c.room, step, into, c.step, c.into)
		}
	}
}

// Colours are written in sRGB (IEC 61966-2-1): linear up to 0.0031308 of full scale, a power
// of 1/2.4 above. The levels in 255 are worked out from its formula.
func TestGammaIsTheStandards(t *testing.T) {
	for linear, want := range map[float64]uint8{0: 0, 0.002: 7, 0.006: 18, 0.0375: 54, 0.5: 188, 1: 255} {
		if got := gamma(linear); got != want {
			t.Errorf("%g of full scale is %d, want %d", linear, got, want)
		}
	}
}

// A map of one cell is a map, and of none it is not.
func TestEdgesOfHeat(t *testing.T) {
	for cells, legal := range map[int]bool{1: true, 0: false} {
		func() {
			defer func() {
				if (recover() == nil) != legal {
					t.Errorf("%d cells: legal is %v", cells, legal)
				}
			}()
			f := &Figure{Name: "a", Width: 300, X: Axis{Lo: 0, Hi: 1}, Y: Axis{Lo: 0, Hi: 1}, Heat: &Heat{Cols: cells, Rows: 1, Z: make([]float32, cells), Lo: 0, Hi: 1}}
			f.SVG()
		}()
	}
}
