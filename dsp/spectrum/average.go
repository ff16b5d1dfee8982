package spectrum

import (
	"fmt"

	"gonum.org/v1/gonum/floats"

	"quietcross/dsp/transform"
)

// transformer yields the power of windowed segments of a stream.
type transformer struct {
	plan   *transform.Real
	window []float64
	buffer []float64 // the newest samples, at most a segment
	filled int
	hop    int
	work   []float64
	power  []float64 // of each line
}

func newTransformer(size, hop int, w Window) *transformer {
	checkSize(size)
	if hop < 1 || hop > size {
		panic(fmt.Sprintf("spectrum: hop of %d samples, legal is 1 to %d", hop, size))
	}
	return &transformer{
		plan: transform.New(size), window: w.Coefficients(size), hop: hop,
		buffer: make([]float64, size), work: make([]float64, size),
		power: make([]float64, size/2+1),
	}
}

// add takes samples and calls each with the squared magnitudes of the transform of
// every finished segment.
func (t *transformer) add(x []float64, each func(power []float64)) {
	for len(x) > 0 {
		n := copy(t.buffer[t.filled:], x)
		t.filled += n
		x = x[n:]
		if t.filled < len(t.buffer) {
			return
		}
		for i, v := range t.buffer {
			t.work[i] = v * t.window[i]
		}
		t.plan.Powers(t.power, t.work, 1)
		each(t.power)
		copy(t.buffer, t.buffer[t.hop:])
		t.filled -= t.hop
	}
}

// Average is the mean power spectrum of a stream (Welch's method): overlapping
// windowed segments, half a segment apart for Hann and a quarter for the other
// windows. It holds one transform plan, so use one Average a goroutine.
type Average struct {
	rate     float64
	size     int
	window   Window
	stream   *transformer
	sums     []float64
	segments int
}

// NewAverage returns an average over segments of size samples, a power of two of
// at least 16 (it panics otherwise), at a rate in hertz.
func NewAverage(rate float64, size int, w Window) *Average {
	checkSize(size)
	return &Average{
		rate: rate, size: size, window: w,
		stream: newTransformer(size, w.hop(size), w),
		sums:   make([]float64, size/2+1),
	}
}

// Add takes the next samples, any number.
func (a *Average) Add(x []float64) {
	a.stream.add(x, func(power []float64) {
		floats.Add(a.sums, power)
		a.segments++
	})
}

// Spectrum returns the average so far. Samples since the last whole segment do
// not count. It returns false before the first segment is full.
func (a *Average) Spectrum() (*Spectrum, bool) {
	if a.segments == 0 {
		return nil, false
	}
	s := &Spectrum{
		Rate: a.rate, Size: a.size, Window: a.window, Segments: a.segments,
		Power: append([]float64(nil), a.sums...),
	}
	s.calibrate(a.segments)
	return s, true
}
