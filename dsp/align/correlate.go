package align

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"

	"quietcross/dsp/level"
)

// match is where a stretch of the capture was found in the reference.
type match struct {
	offset      float64 // position in the reference of the stretch's first sample
	correlation float64 // normalised, negative for inverted polarity
	rival       float64 // maximum magnitude at a peak elsewhere
}

// correlator finds stretches of a capture, all of one length, in a reference. Both
// count without their means.
type correlator struct {
	reference, capture         []float64
	referenceMean, captureMean float64
	energy                     []float64 // of the reference up to each sample
	size                       int       // of the stretch
	plan                       *fourier.FFT
}

func newCorrelator(reference, capture []float64, size int) *correlator {
	c := &correlator{
		reference: reference, capture: capture, size: size, plan: fourier.NewFFT(4 * size),
		referenceMean: level.Mean(reference), captureMean: level.Mean(capture),
	}
	c.energy = make([]float64, len(reference)+1)
	for i, v := range reference {
		v -= c.referenceMean
		c.energy[i+1] = c.energy[i] + v*v
	}
	return c
}

// find returns the best place for the stretch that starts at frame at of the
// capture, at offsets from..to of the reference (cut to those that exist). It
// returns false when there is none, or only silence.
func (c *correlator) find(at, from, to int) (match, bool) {
	from, to = max(from, 0), min(to, len(c.reference)-c.size)
	if from > to {
		return match{}, false
	}
	values := c.values(at, from, to)
	best := 0
	for i, v := range values {
		if math.Abs(v) > math.Abs(values[best]) {
			best = i
		}
	}
	if values[best] == 0 {
		return match{}, false
	}
	m := match{offset: float64(from + best), correlation: values[best]}
	if best > 0 && best < len(values)-1 {
		l, mid, r := math.Abs(values[best-1]), math.Abs(values[best]), math.Abs(values[best+1])
		if bend := l - 2*mid + r; bend < 0 {
			m.offset += (l - r) / (2 * bend)
		}
	}
	m.rival = rival(values, best)
	return m, true
}

// values returns the normalised correlation at each offset from..to, by blocks of
// the fast transform.
func (c *correlator) values(at, from, to int) []float64 {
	n := 4 * c.size
	padded := make([]float64, n)
	own := 0.0
	for i, v := range c.capture[at : at+c.size] {
		padded[i] = v - c.captureMean
		own += padded[i] * padded[i]
	}
	conj := c.plan.Coefficients(nil, padded)
	values := make([]float64, to-from+1)
	block := n - c.size + 1 // offsets that one transform yields
	lines := make([]complex128, n/2+1)
	for done := 0; done < len(values); done += block {
		clear(padded)
		for i := range padded[:copy(padded, c.reference[from+done:])] {
			padded[i] -= c.referenceMean
		}
		c.plan.Coefficients(lines, padded)
		for i, v := range conj {
			lines[i] *= complex(real(v), -imag(v))
		}
		c.plan.Sequence(padded, lines)
		for i := 0; i < block && done+i < len(values); i++ {
			place := from + done + i
			there := c.energy[place+c.size] - c.energy[place]
			if floor := own * there; there > 1e-12*c.energy[len(c.reference)] && floor > 0 {
				values[done+i] = padded[i] / float64(n) / math.Sqrt(floor)
			}
		}
	}
	return values
}

// rival returns the maximum magnitude at a peak other than that around best,
// which ends where the correlation first changes sign to each side.
func rival(values []float64, best int) float64 {
	left, right := best, best
	for left > 0 && values[left]*values[best] > 0 {
		left--
	}
	for right < len(values)-1 && values[right]*values[best] > 0 {
		right++
	}
	other := 0.0
	for i, v := range values {
		// Only peaks of the same polarity: the opposite ones beside it are the
		// signal's own oscillation.
		if (i <= left || i >= right) && v*values[best] > 0 {
			other = max(other, math.Abs(v))
		}
	}
	return other
}
