package network

// remembered is how many values a history goes back.
const remembered = 5

// history is the values of one quantity at the last evenly spaced times, the newest
// first. What comes next is extrapolated from the polynomial through them.
type history [remembered]float64

// still returns the history of a quantity that has not moved.
func still(value float64) history {
	var t history
	for i := range t {
		t[i] = value
	}
	return t
}

// push takes the next value.
func (t *history) push(value float64) {
	t[4], t[3], t[2], t[1], t[0] = t[3], t[2], t[1], t[0], value
}

// extrapolate returns the next value of the quartic through the history.
func (t *history) extrapolate() float64 { return 5*(t[0]-t[3]) - 10*(t[1]-t[2]) + t[4] }

// inParts returns the history with the spacing of the parts of a step, on the quartic
// through it.
func (t *history) inParts() history {
	out := history{t[0]}
	for i := range partsBack {
		out[i+1] = dot(partsBack[i][:], t[:])
	}
	return out
}

// ringing returns by how much the newest value is off a parabola on which every other
// value is off by as much to the other side: a store's voltage may ring so from step to
// step under the trapezoidal rule, about devices that were turned off.
func (t *history) ringing() float64 { return (t[0] - t[3] - 3*(t[1]-t[2])) / 8 }

// inSteps takes a history with the spacing of parts to that of whole steps, on the
// parabola through its last three values alone: a kink before them is forgotten.
func (t *history) inSteps() history {
	out := history{t[0]}
	for i := range stepsBack {
		out[i+1] = dot(stepsBack[i][:], t[:3])
	}
	return out
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i, x := range a {
		sum += x * b[i]
	}
	return sum
}

// partsBack and stepsBack hold the weights with which values at the last steps make
// those at the last parts, and the other way round.
var (
	partsBack = weights(times(0, -1, remembered), times(-1.0/splitInto, -1.0/splitInto, remembered-1))
	stepsBack = weights(times(0, -1.0/splitInto, 3), times(-1, -1, remembered-1))
)

// times returns count times, evenly spaced.
func times(first, spacing float64, count int) []float64 {
	list := make([]float64, count)
	for i := range list {
		list[i] = first + float64(i)*spacing
	}
	return list
}

// weights returns, for each time, the weights of values at the nodes in the
// polynomial through them (Lagrange).
func weights(nodes, times []float64) [][]float64 {
	all := make([][]float64, len(times))
	for i, x := range times {
		all[i] = make([]float64, len(nodes))
		for j, at := range nodes {
			all[i][j] = 1
			for k, other := range nodes {
				if k != j {
					all[i][j] *= (x - other) / (at - other)
				}
			}
		}
	}
	return all
}
