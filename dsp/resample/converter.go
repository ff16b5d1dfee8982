package resample

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"

	"quietcross/dsp/kaiser"
)

// The range of rates that a Converter takes, in hertz.
const (
	MinRate = 8000
	MaxRate = 384000
)

// Converter changes the rate by any ratio of whole numbers: a windowed sinc, one
// row of coefficients for each place that an output sample can have between two
// input samples.
//
// It keeps 0 to [PassEdge] of the lower rate flat within 1e-6 and stops all from
// 1-PassEdge of it on by 120 dB. There is no delay: output k is the input at the
// time k·from/to, the input being silence before its first and after its last
// sample. Output comes as soon as the input it needs has come.
type Converter struct {
	from, to int // in lowest terms
	kernel   kernel
	x        []float64 // input not yet done with, after the silence before
	at       int       // the input sample at or before the next output, less kernel.reach-1
	phase    int       // how far past it, in 1/to of a sample
	pending  int       // input samples not yet matched by output
}

// NewConverter returns a Converter between two rates in hertz. It returns an error
// if one is outside [MinRate] to [MaxRate].
func NewConverter(from, to int) (*Converter, error) {
	for _, r := range []int{from, to} {
		if r < MinRate || r > MaxRate {
			return nil, fmt.Errorf("resample: rate of %d Hz: must be from %d to %d Hz", r, MinRate, MaxRate)
		}
	}
	d := divisor(from, to)
	c := &Converter{from: from / d, to: to / d}
	c.kernel = newKernel(c.from, c.to)
	c.Reset()
	return c, nil
}

// divisor is the greatest common divisor (Euclid).
func divisor(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// Reset returns to the state before the first sample.
func (c *Converter) Reset() {
	c.x = append(c.x[:0], make([]float64, c.kernel.reach-1)...)
	c.at, c.phase, c.pending = 0, 0, 0
}

// Process takes src and appends to dst the output that it completes. The bits do
// not depend on how a stream is cut.
func (c *Converter) Process(dst, src []float64) []float64 {
	c.x = append(c.x, src...)
	c.pending += len(src) * c.to
	return c.drain(dst)
}

// Flush appends to dst what is left, as if silence followed. In all there is one
// output sample for every time k·from/to before the end of the input. Reset must
// be called before the next stream.
func (c *Converter) Flush(dst []float64) []float64 {
	c.x = append(c.x, make([]float64, c.kernel.reach)...)
	return c.drain(dst)
}

// drain appends all output that the input at hand allows and drops the input that
// is done with.
func (c *Converter) drain(dst []float64) []float64 {
	n := 2 * c.kernel.reach
	for c.pending > 0 && c.at+n <= len(c.x) {
		dst = append(dst, floats.Dot(c.kernel.row(c.phase), c.x[c.at:c.at+n]))
		c.phase += c.from
		c.at += c.phase / c.to
		c.phase %= c.to
		c.pending -= c.from
	}
	done := min(c.at, len(c.x))
	c.x = append(c.x[:0], c.x[done:]...)
	c.at -= done
	return dst
}

// kernel holds the coefficients of a Converter: rows of 2·reach each, first that of
// an output sample on an input sample. If there would be too many places between
// two input samples, the rows are even ones with one more before and two after, to
// be interpolated.
type kernel struct {
	reach    int
	places   int // between two input samples: the rate to, in lowest terms
	rows     [][]float64
	between  []float64
	scale    float64 // even rows per place; 0 if there is a row for each
	cutoff   float64 // of the input rate
	halfSpan float64 // of the window, in input samples
	beta     float64 // of the window
}

const (
	// attenuation that the window is designed for, in decibels; 130 come of it.
	attenuation = 132
	// evenRows to an input sample leave 1e-11 to be interpolated.
	evenRows = 1024
)

func newKernel(from, to int) kernel {
	lower := min(1, float64(to)/float64(from))
	transition := (1 - 2*PassEdge) * lower
	span := kaiser.Span(attenuation, transition)
	k := kernel{
		reach:    int(math.Ceil(span/2)) + 1,
		places:   to,
		cutoff:   lower / 2,
		halfSpan: span / 2,
		beta:     kaiser.Beta(attenuation),
	}
	even := int(math.Ceil(evenRows * lower))
	if to <= even {
		for p := range to {
			k.rows = append(k.rows, k.coefficients(float64(p)/float64(to)))
		}
		return k
	}
	k.scale = float64(even) / float64(to)
	k.between = make([]float64, 2*k.reach)
	for p := -1; p <= even+1; p++ {
		k.rows = append(k.rows, k.coefficients(float64(p)/float64(even)))
	}
	return k
}

// coefficients returns the row for an output sample at the given part of an input
// sample past the middle one.
func (k *kernel) coefficients(part float64) []float64 {
	row := make([]float64, 2*k.reach)
	for j := range row {
		row[j] = k.at(part + float64(k.reach-1-j))
	}
	floats.Scale(1/floats.Sum(row), row)
	return row
}

// at is the windowed sinc t input samples from its middle.
func (k *kernel) at(t float64) float64 {
	return kaiser.Sinc(2*k.cutoff*t) * kaiser.Window(t/k.halfSpan, k.beta)
}

// row returns the coefficients for a place, by the cubic through four rows if it
// has none of its own.
func (k *kernel) row(place int) []float64 {
	if k.scale == 0 {
		return k.rows[place]
	}
	t := float64(place) * k.scale
	i := int(t)
	t -= float64(i)
	a := -t * (t - 1) * (t - 2) / 6
	b := (t + 1) * (t - 1) * (t - 2) / 2
	c := -(t + 1) * t * (t - 2) / 2
	d := (t + 1) * t * (t - 1) / 6
	r0, r1, r2, r3 := k.rows[i], k.rows[i+1], k.rows[i+2], k.rows[i+3]
	for j := range k.between {
		k.between[j] = a*r0[j] + b*r1[j] + c*r2[j] + d*r3[j]
	}
	return k.between
}
