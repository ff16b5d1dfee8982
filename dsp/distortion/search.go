package distortion

import (
	"errors"
	"fmt"
	"math"
	"math/bits"
	"slices"

	"quietcross/dsp/spectrum"
)

// Limits of a measurable record.
const (
	minSamples = 256
	minCycles  = 12 // of the lowest frequency: the main lobe is four lines each side
	coarseSize = 1 << 17
)

// ErrSilence means that the signal is silent or constant: nothing to measure.
var ErrSilence = errors.New("distortion: the signal is silent or constant")

// checkSamples refuses signals that no measure can use. A rate that is not above
// 0 and finite is the programmer's error and panics.
func checkSamples(x []float64, rate float64) error {
	if !(rate > 0) || math.IsInf(rate, 1) {
		panic(fmt.Sprintf("distortion: sample rate %g Hz", rate))
	}
	if len(x) < minSamples {
		return fmt.Errorf("distortion: %d samples, at least %d are needed", len(x), minSamples)
	}
	for i, v := range x {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("distortion: sample %d is %g, want a finite number", i, v)
		}
	}
	if slices.Min(x) == slices.Max(x) {
		return ErrSilence
	}
	return nil
}

// coarse returns the spectrum of the middle of x, of at most coarseSize samples,
// with its mean taken out.
func coarse(x []float64, rate float64, w spectrum.Window) *spectrum.Spectrum {
	n := min(1<<(bits.Len(uint(len(x)))-1), coarseSize)
	from := (len(x) - n) / 2
	part := slices.Clone(x[from : from+n])
	mean := 0.0
	for _, v := range part {
		mean += v / float64(n)
	}
	for i := range part {
		part[i] -= mean
	}
	return spectrum.Of(part, rate, w)
}

// strongest returns a first estimate, good to a few hundredths of a line, of the
// strongest frequency from low to high hertz.
func strongest(x []float64, rate, low, high float64) (float64, error) {
	s := coarse(x, rate, fitWindow)
	low = max(low, 4*s.LineWidth())
	high = min(high, rate/2-4*s.LineWidth())
	_, hertz, ok := s.Strongest(low, high)
	if !ok {
		return 0, fmt.Errorf("distortion: no tone from %.4g to %.4g Hz", low, high)
	}
	if cycles := hertz * float64(len(x)) / rate; cycles < minCycles {
		return 0, fmt.Errorf("distortion: %.2g cycles of %.4g Hz, at least %d are needed", cycles, hertz, minCycles)
	}
	return hertz, nil
}
