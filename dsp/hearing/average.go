package hearing

import "math"

// Averages over time, BS.1387, 5.2. The value of an empty average is 0.

// mean is a linear or, with weights, a weighted average.
type mean struct{ sum, weight float64 }

func (m *mean) add(x, weight float64) {
	m.sum += x * weight
	m.weight += weight
}

func (m *mean) value() float64 {
	if m.weight == 0 {
		return 0
	}
	return m.sum / m.weight
}

// windowLength is the number of frames, about 100 ms, in a windowed average.
const windowLength = 4

// windowed is the average that WinModDiff1B asks for (BS.1387, 5.2.3): the root
// of the mean of the fourth powers of the means of four square roots, which
// gives short bursts their due.
type windowed struct {
	last  [windowLength]float64
	count int
	sum   float64
}

func (w *windowed) add(x float64) {
	w.last[w.count%windowLength] = math.Sqrt(x)
	w.count++
	if w.count < windowLength {
		return
	}
	inner := 0.0
	for _, v := range w.last {
		inner += v / windowLength
	}
	w.sum += inner * inner * inner * inner
}

func (w *windowed) value() float64 {
	if w.count < windowLength {
		return 0
	}
	return math.Sqrt(w.sum / float64(w.count-windowLength+1))
}
