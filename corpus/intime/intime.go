// Package intime passes signals at their own rate through a stage that is followed in
// time: its stores of energy move from their state at rest.
//
// The input is raised in rate by a [resample.Up]; a [Channel] moves a [stage.Dynamic]
// through it, which gives means under a triangle two samples wide, and a [shape.Descent]
// brings these down and undoes the triangle's response. The ideal stage that the output
// is held against is the circuit itself where it is most linear, at a signal so small
// that it is linear: what coupling capacitors, transformers and loudspeakers do to the
// frequency response is in the reference too, and what is left over is distortion.
package intime

import (
	"gonum.org/v1/gonum/floats"

	"quietcross/dsp/level"
	"quietcross/dsp/resample"
	"quietcross/dsp/shape"
	"quietcross/stage"
)

// Oversample keeps the dynamic solver within -110 dB of the static one at 1 kHz, and of
// the circuit's own equations.
const Oversample = 16

// Source returns the way up of one channel.
func Source(oversample int) *resample.Up { return resample.NewUp(oversample) }

// Latency returns the delay of the whole way, frames.
func Latency(oversample int) int {
	high := Source(oversample).Latency() + stage.Latency + descent(oversample, 1).Latency()
	return high / oversample
}

func descent(oversample, frames int) *shape.Descent {
	return shape.NewDescent(oversample, stage.Latency, 2, frames)
}

// A Channel moves a stage through the oversampled input of one channel and takes its
// output down to the channel's rate. It is for one goroutine.
type Channel struct {
	dynamic *stage.Dynamic
	rest    float64 // output with no signal, V
	// Of the ideal stage: what its input is multiplied by, and its midband gain, V/V.
	// Else 1 and 0.
	down, gain float64
	descent    *shape.Descent
}

// New returns a biased stage at rest, for signals at rate Hz that come oversampled so many
// times, up to frames frames at a time. The oversampling must be 1, 2, 4, 8, 16 or 32, or
// it panics. A stage that oscillates is an error.
func New(b *stage.Biased, rate, oversample, frames int) (*Channel, error) {
	dynamic, err := b.Dynamic(float64(rate * oversample))
	if err != nil {
		return nil, err
	}
	return &Channel{dynamic: dynamic, rest: b.Point().Output, down: 1, descent: descent(oversample, frames)}, nil
}

// Stage returns what the channel moves, false where it is the ideal stage.
func (c *Channel) Stage() (*stage.Dynamic, bool) { return c.dynamic, c.gain == 0 }

// Small returns what the input is multiplied by: 1, or less in the ideal stage.
func (c *Channel) Small() float64 { return c.down }

// Process moves the stage through oversampled input in volts, high, and puts its output,
// in volts, into dst; len(high) must be the oversampling times len(dst). The error says
// where the stage has no solution.
func (c *Channel) Process(dst, high []float64) error {
	inlet := c.descent.Inlet(len(dst))
	if c.gain == 0 {
		if err := c.dynamic.Process(inlet, high); err != nil {
			return err
		}
		floats.AddConst(-c.rest, inlet)
		c.descent.Process(dst)
		floats.AddConst(c.rest, dst)
		return nil
	}
	floats.ScaleTo(inlet, c.down, high)
	if err := c.dynamic.Process(inlet, inlet); err != nil {
		return err
	}
	floats.AddConst(-c.rest, inlet)
	floats.Scale(1/(c.down*c.gain), inlet)
	c.descent.Process(dst)
	return nil
}

// An Ideal is a stage where it is most linear.
type Ideal struct {
	biased *stage.Biased
	gain   float64 // at midband, V/V
}

// NewIdeal biases a stage where it is most linear: at the optimum, or at the top of its
// ladder where its circuit has no optimum.
func NewIdeal(st *stage.Stage) (*Ideal, error) {
	setting := stage.Quiescent(st.OptimumQuiescent())
	if st.OptimumQuiescent() == 0 {
		ladder, err := st.DefaultLadder()
		if err != nil {
			return nil, err
		}
		setting = ladder[len(ladder)-1]
	}
	biased, err := st.Set(setting)
	if err != nil {
		return nil, err
	}
	return IdealOf(biased)
}

// IdealOf returns the ideal stage that a biased one is at a small signal.
func IdealOf(b *stage.Biased) (*Ideal, error) {
	_, gain, err := b.Transfer(0)
	return &Ideal{biased: b, gain: gain}, err
}

// Biased returns the stage that is ideal at a small signal.
func (i *Ideal) Biased() *stage.Biased { return i.biased }

// smallness is full scale of a small signal re the drive: there a residual of
// second order that is -48 dB at full drive has fallen under -140 dB, and the
// solver's rounding still lies as far below.
const smallness = 1e-5

// Channel returns the ideal stage at rest, of unity midband gain, for signals at level l
// re the drive; else it is as [New].
func (i *Ideal) Channel(rate, oversample, frames int, l level.DB) (*Channel, error) {
	c, err := New(i.biased, rate, oversample, frames)
	if err != nil {
		return nil, err
	}
	c.down, c.gain = smallness/l.Amplitude(), i.gain
	return c, nil
}
