package quiescent

import "math"

// gridRatio is about how far neighbouring currents of the sweep are apart, and
// gridDepth how far the minimum lies under the optimum.
const (
	gridRatio = 2.2
	gridDepth = 1000
)

// grid returns the minimum and the maximum current of the sweep, A, and how many
// there are between, both included, by equal ratios, so that the optimum is one
// of them where there is one.
func grid(optimum, maximum float64) (low, high float64, points int) {
	if optimum <= 0 || optimum >= maximum {
		points = int(math.Ceil(math.Log(gridDepth)/math.Log(gridRatio))) + 1
		return maximum / gridDepth, maximum, points
	}
	above := max(2, int(math.Round(math.Log(maximum/optimum)/math.Log(gridRatio))))
	step := math.Log(maximum/optimum) / float64(above)
	below := int(math.Ceil(math.Log(gridDepth) / step))
	return optimum * math.Exp(-step*float64(below)), maximum, below + above + 1
}

// currents returns the currents of a grid in ascending order.
func currents(low, high float64, points int) []float64 {
	list := make([]float64, points)
	for i := range list {
		list[i] = low * math.Pow(high/low, float64(i)/float64(points-1))
	}
	return list
}
