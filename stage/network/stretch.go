package network

// Stretch is a voltage over a stretch of time.
type Stretch struct {
	Mean float64 // V
	// Tilt is the integral of the voltage times the place in the stretch, from -1/2 at
	// its beginning to 1/2 at its end, in volts: a twelfth of the rise of a straight line.
	Tilt float64
}

// A smooth voltage is taken from the polynomial through its values at the last steps,
// the newest first: smooth holds their weights for the stretches that each level is
// told in, those of samples or, where a step is no longer than a sample, itself.
var smooth = func() (levels [maximumDepth + 1][]stretchWeights) {
	for level := range levels {
		levels[level] = newStretchWeights(stretchesAt(level))
	}
	return levels
}()

// stretchesAt returns in how many stretches a step of some level is told.
func stretchesAt(level int) int {
	n := Samples
	for range level {
		n /= splitInto
	}
	return max(n, 1)
}

// stretchWeights are what the values at the nodes count in mean and tilt.
type stretchWeights struct{ mean, tilt [remembered]float64 }

func (p *stretchWeights) of(values []float64) Stretch {
	return Stretch{Mean: dot(p.mean[:], values), Tilt: dot(p.tilt[:], values)}
}

// newStretchWeights integrates those polynomials over equal parts of the last step, by
// Gauss's rule of three points (exact to the fifth degree).
func newStretchWeights(parts int) []stretchWeights {
	nodes := times(1, -1, remembered)
	place := [3]float64{-0.3872983346207417, 0, 0.3872983346207417} // sqrt(3/5)/2
	share := [3]float64{5.0 / 18, 8.0 / 18, 5.0 / 18}
	list := make([]stretchWeights, parts)
	for p := range list {
		for k, at := range place {
			value := weights(nodes, []float64{(float64(p) + 0.5 + at) / float64(parts)})[0]
			for j, w := range value {
				list[p].mean[j] += share[k] * w
				list[p].tilt[j] += share[k] * at * w
			}
		}
	}
	return list
}

// joined returns the whole of equal stretches in a row.
func joined(parts []Stretch) (whole Stretch) {
	n := float64(len(parts))
	for i, p := range parts {
		middle := (float64(i)+0.5)/n - 0.5
		whole.Mean += p.Mean / n
		whole.Tilt += (p.Mean*middle + p.Tilt/n) / n
	}
	return whole
}
