package engine

import (
	"math"

	"quietcross/dsp/shape"
)

// Orders is how many harmonics a table has, the fundamental first.
const Orders = 10

// toneSamples is the number of points of a cycle that harmonics are taken from.
const toneSamples = 1 << 13

// Harmonics returns the amplitudes of the output for a sine of peak volts at the
// input, V, the fundamental first, from the law itself: no rate and no filter comes in.
func Harmonics(law *shape.Law, peak float64) []float64 {
	var re, im [Orders + 1]float64
	rest := law.At(0)
	for i := range toneSamples {
		phase := 2 * math.Pi * float64(i) / toneSamples
		y := law.At(peak*math.Sin(phase)) - rest
		for k := 1; k <= Orders; k++ {
			sin, cos := math.Sincos(float64(k) * phase)
			re[k] += y * cos
			im[k] += y * sin
		}
	}
	amplitudes := make([]float64, Orders)
	for k := range amplitudes {
		amplitudes[k] = 2 * math.Hypot(re[k+1], im[k+1]) / toneSamples
	}
	return amplitudes
}
