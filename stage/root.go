package stage

import "math"

// root finds where a rising function crosses zero between lo and hi, to rounding
// or to a value of exactly zero, by false position with bisection whenever that
// is slow (the Illinois rule). f(lo) <= 0 <= f(hi) must hold.
func root(f func(float64) (float64, error), lo, hi float64) (float64, error) {
	flo, err := f(lo)
	if err != nil {
		return 0, err
	}
	fhi, err := f(hi)
	if err != nil {
		return 0, err
	}
	side := 0
	for range 200 {
		width := hi - lo
		if flo == 0 || width <= 4e-16*math.Abs(hi) {
			return lo, nil
		}
		x := hi - fhi*width/(fhi-flo)
		if side > 1 || side < -1 || !(x > lo && x < hi) {
			x = lo + width/2
			side = 0
		}
		y, err := f(x)
		switch {
		case err != nil:
			return 0, err
		case math.Abs(y) < 1e-12:
			return x, nil
		case y < 0:
			lo, flo = x, y
			side = min(side, 0) - 1
		default:
			hi, fhi = x, y
			side = max(side, 0) + 1
		}
	}
	return lo + (hi-lo)/2, nil
}
