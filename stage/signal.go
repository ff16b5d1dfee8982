package stage

import (
	"fmt"
	"math"
)

// What a signal costs a stage without memory in heat depends on how much of the time
// it spends at each input voltage and on nothing else. A Signal is such a profile: no
// signal, a sine, or a programme's own.

// A Profile is how a stage's input is spread over voltages.
type Profile []Share

// Share is an input voltage and the part of the time spent there; parts add up to 1.
type Share struct{ Volts, Part float64 }

// Signal is what a stage is at work on. The zero Signal is none.
type Signal struct {
	peak      float64
	programme Profile
}

// Sine is a steady sine of peak volts at the input; 0 is no signal. It panics if peak
// is negative or not finite.
func Sine(peak float64) Signal {
	if !(peak >= 0) || math.IsInf(peak, 0) {
		panic("stage: a sine of a peak that is negative or not finite")
	}
	return Signal{peak: peak}
}

// Programme is a signal that spends its time as a profile says. It panics if the
// profile is empty.
func Programme(p Profile) Signal {
	if len(p) == 0 {
		panic("stage: a programme without a profile")
	}
	s := Signal{programme: p}
	for _, share := range p {
		s.peak = max(s.peak, math.Abs(share.Volts))
	}
	return s
}

// Peak returns the maximum size of the input, V.
func (s Signal) Peak() float64 { return s.peak }

// IsProgramme reports whether the signal is a programme, of which [Power] has neither
// class nor conduction angles.
func (s Signal) IsProgramme() bool { return s.programme != nil }

// warmingPhases is how many inputs of a cycle the powers of a sine are taken from while
// a stage warms up: enough for temperatures; at rest in the end it is solved as finely as
// everywhere.
const warmingPhases = 120

// coarse is the signal as it warms a stage up.
func (s Signal) coarse() Profile {
	switch {
	case s.programme != nil:
		return s.programme
	case s.peak == 0:
		return Profile{{0, 1}}
	}
	inputs := fallingHalf(s.peak, warmingPhases)
	p := make(Profile, len(inputs))
	for i, in := range inputs {
		p[i] = Share{in, 1 / float64(len(inputs))}
	}
	return p
}

// fallingHalf returns n/2 inputs, evenly spaced in phase, of the half of a sine's cycle in
// which it falls, out of n of the whole: at the same inputs it rises again, and a stage
// without memory is solved there once.
func fallingHalf(peak float64, n int) []float64 {
	inputs := make([]float64, n/2)
	for i := range inputs {
		inputs[i] = peak * math.Cos(2*math.Pi*(float64(i)+0.5)/float64(n))
	}
	return inputs
}

// PowerOf returns the mean powers of a stage at work on a signal.
func (b *Biased) PowerOf(s Signal) (Power, error) {
	if s.programme == nil {
		return b.Power(s.peak)
	}
	return b.powerOver(s.programme, s.peak)
}

// powerOver returns the mean powers over a profile, with neither class nor conduction
// angles.
func (b *Biased) powerOver(profile Profile, peak float64) (Power, error) {
	if b.sags() {
		return b.onSag(profile, func(on *Biased) (Power, error) { return on.powerOver(profile, peak) })
	}
	p := Power{Peak: peak}
	var currents [][]float64
	for _, share := range profile {
		if err := b.tally(&p, share.Volts, share.Part, &currents); err != nil {
			return Power{}, fmt.Errorf("power at an input of %g V: %w", share.Volts, err)
		}
	}
	if p.Supply > 0 {
		p.Efficiency = p.Load / p.Supply
	}
	return p, nil
}
