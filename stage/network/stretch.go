package network

// What a voltage is over a stretch of time is told as its mean and first moment. Over a
// step that runs smoothly both come from the polynomial through the last values, by Gauss's
// rule; else they are joined from those of the step's parts.

// stretch is a voltage over a stretch of time.
type stretch struct {
	mean float64 // V
	// tilt is the integral of the voltage times the place in the stretch, from -1/2 at
	// its beginning to 1/2 at its end, in volts: a twelfth of the rise of a straight line.
	tilt float64
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
type stretchWeights struct{ mean, tilt [fitted]float64 }

func (p *stretchWeights) of(v *[fitted]float64) stretch {
	return stretch{mean: dot5(&p.mean, v), tilt: dot5(&p.tilt, v)}
}

func dot5(a, b *[fitted]float64) float64 {
	return a[0]*b[0] + a[1]*b[1] + a[2]*b[2] + a[3]*b[3] + a[4]*b[4]
}

// newStretchWeights integrates those polynomials over equal parts of the last step, by
// Gauss's rule of three points (exact to the fifth degree).
func newStretchWeights(parts int) []stretchWeights {
	nodes := times(1, -1, fitted)
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
func joined(parts []stretch) (whole stretch) {
	n := float64(len(parts))
	for i, p := range parts {
		middle := (float64(i)+0.5)/n - 0.5
		whole.mean += p.mean / n
		whole.tilt += (p.mean*middle + p.tilt/n) / n
	}
	return whole
}

// underWeights are what the values of a step that was not split count in what Under gives, and
// at last in the share that its last stretch has in the sample at its end.
var underWeights = func() (list [Samples + 1][fitted]float64) {
	for i, p := range smooth[0] {
		for j := range p.mean {
			list[i][j] += p.mean[j]/2 - p.tilt[j]
			list[i+1][j] += p.mean[j]/2 + p.tilt[j]
		}
	}
	return list
}()
