package fit

import (
	"errors"
	"math"

	"quietcross/dsp/shape"
)

// halfCycle is how many points half a cycle of the law's output is read at.
const halfCycle = 1024

// cosines of the half cycle's angles, at the middles of their intervals.
var cosines = func() (c [halfCycle]float64) {
	for i := range c {
		c[i] = math.Cos(math.Pi * (float64(i) + 0.5) / halfCycle)
	}
	return c
}()

// series is a law's output as a cosine series.
type series struct {
	law   *shape.Law
	reach float64 // greatest input, V
	wave  [halfCycle]float64
}

// drive fills the wave for an input of peak volts and returns the fundamental.
func (s *series) drive(peak float64) float64 {
	sum := 0.0
	for i, c := range cosines {
		s.wave[i] = s.law.At(peak * c)
		sum += s.wave[i] * c
	}
	return 2 * sum / halfCycle
}

// harmonic returns the coefficient of an order of the present wave.
func (s *series) harmonic(order int) float64 {
	sum := 0.0
	for i, y := range s.wave {
		// cos(nθ) lies on the same grid: index n(2i+1) in steps of π/2N.
		sum += y * fine[order*(2*i+1)%(4*halfCycle)]
	}
	return 2 * sum / halfCycle
}

// fine holds cos(πk/2N) for k from 0 to 4N.
var fine = func() (c [4 * halfCycle]float64) {
	for k := range c {
		c[k] = math.Cos(math.Pi * float64(k) / (2 * halfCycle))
	}
	return c
}()

var errBeyond = errors.New("fit: the stage clips below the recorded output: check the volts that full scale stands for")

// reaching finds the input whose output has the given fundamental and returns the
// harmonics from order 2.
func (s *series) reaching(volts float64, count int) ([]float64, error) {
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
	s.drive(peak)
	inverted := s.harmonic(1) < 0
	out := make([]float64, count)
	for i := range out {
		// An inverted output crests half a cycle later, where order n has the
		// sign (-1)^n.
		out[i] = s.harmonic(i + 2)
		if inverted && i%2 == 1 {
			out[i] = -out[i]
		}
	}
	return out, nil
}
