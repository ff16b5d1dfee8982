package choice

import "math"

// gridRatio is about how far neighbouring currents of the sweep are apart, and
// gridDepth how far the least lies under the optimum.
const (
	gridRatio = 2.2
	gridDepth = 1000
)

// grid returns the least and the greatest current of the sweep, A, and how many
// there are between, both included, by equal ratios, so that the optimum is one
// of them where there is one.
func grid(optimum, greatest float64) (low, high float64, points int) {
	if optimum <= 0 || optimum >= greatest {
		points = int(math.Ceil(math.Log(gridDepth)/math.Log(gridRatio))) + 1
		return greatest / gridDepth, greatest, points
	}
	above := max(2, int(math.Round(math.Log(greatest/optimum)/math.Log(gridRatio))))
	step := math.Log(greatest/optimum) / float64(above)
	below := int(math.Ceil(math.Log(gridDepth) / step))
	return optimum * math.Exp(-step*float64(below)), greatest, below + above + 1
}

// currents returns the currents of a grid in ascending order.
func currents(low, high float64, points int) []float64 {
	list := make([]float64, points)
	for i := range list {
		list[i] = low * math.Pow(high/low, float64(i)/float64(points-1))
	}
	return list
}
