package fit

import (
	"errors"
	"math"

	"quietcross/dsp/shape"
)

// halfCycle is how many points half a cycle of the law's output is read at.
const halfCycle = 1024

// cosines holds cos(πk/2N) for k from 0 to 4N: cos(nθ) at the middles of N
// intervals of half a cycle is its entry n(2i+1).
var cosines = func() (c [4 * halfCycle]float64) {
	for k := range c {
		c[k] = math.Cos(math.Pi * float64(k) / (2 * halfCycle))
	}
	return c
}()

// series is a law's output under one tone as a cosine series.
type series struct {
	law   *shape.Law
	reach float64 // maximum input, V
	wave  [halfCycle]float64
}

// drive fills the wave for an input of peak volts and returns the fundamental.
func (s *series) drive(peak float64) float64 {
	sum := 0.0
	for i := range s.wave {
		c := cosines[2*i+1]
		s.wave[i] = s.law.At(peak * c)
		sum += s.wave[i] * c
	}
	return 2 * sum / halfCycle
}

// harmonic returns the coefficient of an order of the present wave.
func (s *series) harmonic(order int) float64 {
	sum := 0.0
	for i, y := range s.wave {
		sum += y * cosines[order*(2*i+1)%(4*halfCycle)]
	}
	return 2 * sum / halfCycle
}

var (
	errBeyond    = errors.New("fit: the stage clips below the recorded output: check the volts that full scale stands for")
	errUnreached = errors.New("fit: no input gives the recorded tones")
)

// reaching finds the input whose output has the recorded fundamental and returns
// the recorded lines as the law makes them.
func (s *series) reaching(o Observation) ([]float64, error) {
	volts := o.Amplitudes[0]
	low, high := 0.0, s.reach
	if math.Abs(s.drive(high)) < volts {
		return nil, errBeyond
	}
	peak := high / 2
	for range 60 {
		f := math.Abs(s.drive(peak))
		if f < volts {
			low = peak
		} else {
			high = peak
		}
		if high-low < 1e-10*s.reach || math.Abs(f-volts) < 1e-10*volts {
			break
		}
		// A step along the chord from 0, kept inside the bracket.
		next := peak * volts / max(f, 1e-300)
		if !(next > low+(high-low)*0.02) || !(next < high-(high-low)*0.02) {
			next = (low + high) / 2
		}
		peak = next
	}
	inverted := s.drive(peak) < 0
	out := make([]float64, len(o.Lines))
	for i, l := range o.Lines {
		out[i] = turned(s.harmonic(l.N1), l, inverted)
	}
	return out, nil
}

// turned returns a coefficient as it reads from the output's crests: an inverted
// output crests half a cycle after the input, where a line of order n has the
// sign (-1)^n.
func turned(coefficient float64, l Line, inverted bool) float64 {
	if inverted && l.Order()%2 == 1 {
		return -coefficient
	}
	return coefficient
}
