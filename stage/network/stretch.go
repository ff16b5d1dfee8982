package network

// Stretch is a voltage over one of the equal parts of a step.
type Stretch struct {
	Mean float64 // V
	// Tilt is the integral of the voltage times the place in the part, from -1/2 at its
	// beginning to 1/2 at its end, in volts: a twelfth of the rise of a straight line.
	Tilt float64
}

// A smooth voltage is taken from the polynomial through its values at the last steps,
// the newest first: inParts holds their weights for each part of the last step, and
// inOne those for the whole of it.
var (
	inParts = stretchWeights(splitInto)
	inOne   = stretchWeights(1)
)

// partWeights are what the values at the nodes count in mean and tilt of a part.
type partWeights struct{ mean, tilt [remembered]float64 }

func (p *partWeights) of(values []float64) Stretch {
	return Stretch{Mean: dot(p.mean[:], values), Tilt: dot(p.tilt[:], values)}
}

// stretchWeights integrates those polynomials over equal parts of the last step, by
// Gauss's rule of three points (exact to the fifth degree).
func stretchWeights(parts int) []partWeights {
	nodes := times(1, -1, remembered)
	place := [3]float64{-0.3872983346207417, 0, 0.3872983346207417} // sqrt(3/5)/2
	share := [3]float64{5.0 / 18, 8.0 / 18, 5.0 / 18}
	list := make([]partWeights, parts)
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

// whole joins the stretches of the equal parts of a step.
func whole(parts *[splitInto]Stretch) (all Stretch) {
	for i, p := range parts {
		middle := (float64(i)+0.5)/splitInto - 0.5
		all.Mean += p.Mean / splitInto
		all.Tilt += (p.Mean*middle + p.Tilt/splitInto) / splitInto
	}
	return all
}
