package stage

import (
	"fmt"
	"math"
	"slices"

	"quietcross/stage/network"
	"quietcross/stage/quantity"
)

// Tone is one component of a periodic input: Peak cos(2 pi Order base t + Phase).
type Tone struct {
	Order int     // multiple of the base frequency, 1 to 100,000
	Peak  float64 // V, > 0
	Phase float64 // rad
}

// Periodic solves for what a biased stage settles to under a periodic input, with all
// that its capacitors, windings, loudspeaker and loop remember; see
// [network.Periodic]. It keeps its last solution as the start of the next, so that
// going from level to level at one frequency is cheapest. It is for one goroutine at a
// time.
//
// Processor time of a point in user mode, from level to level at 100 Hz, 1 and 15 kHz,
// with the lines up to 20 kHz, in milliseconds:
//
//	pair into a loudspeaker, as built   1.2   1.0   0.7
//	  bias 1.2 V                        1.5   1.8   1.6
//	  unbiased                          2.7   3.4   4.0
//	pair in a loop, as built            0.8   0.8   0.6
//	  unbiased                          3.0   2.1   1.7
//
// Unbiased devices that block the current of a voice coil make its voltage leap, which
// takes steps that shrink toward it. Two tones take 5 to 35 ms with 250 Hz and 8 kHz,
// 15 to 120 ms with 19 and 20 kHz, and with 60 Hz and 7 kHz, whose base is 20 Hz, 0.08 to
// 0.3 s. These figures are printed by
//
//	go test -run xxx -bench Periodic ./stage
type Periodic struct {
	biased *Biased
	cycles *network.Periodic
	tones  []Tone // of the last solution
	base   float64
}

// Periodic prepares the stage for periodic inputs. A stage that oscillates about any
// of its operating points is refused with an error that wraps ErrUnstable.
func (b *Biased) Periodic() (*Periodic, error) {
	net, rest := b.stage.build(&b.made)
	if err := rest.Solve(); err != nil {
		return nil, fmt.Errorf("%s: %w", b.setting, err)
	}
	own := b.on(net, rest)
	if _, err := (&Dynamic{biased: own}).motions(rest, probeRate); err != nil {
		return nil, fmt.Errorf("%s: %w", b.setting, err)
	}
	return &Periodic{biased: own, cycles: rest.Periodic(net.In, net.Out)}, nil
}

// probeRate is the step rate, in 1/s, at which natural motions are looked for; they do
// not depend on it but for rounding.
const probeRate = 1e6

// Limits of a periodic input.
const (
	maximumOrder = 100_000
	perCycle     = 6   // of a loud tone, steps at least, and of any soft one
	perSoftCycle = 2   // whose waveform the polynomials still follow to a thousandth of itself
	loudShare    = 0.1 // of the peak, from which on a tone is loud
	startLooks   = 32  // at the fastest tone's phases for the peak of the input
)

// Solve returns the periodic state under the sum of tones whose frequencies are
// multiples of a base frequency: one tone for harmonics, two for intermodulation.
// Legal bases are 0.1 Hz to 1 MHz. Tones outside their range, or none, are an *Error.
// An input for which no periodic state is found, such as one that a loop cannot
// follow, is an error that wraps network.ErrNoPoint.
func (p *Periodic) Solve(base float64, tones ...Tone) (*Steady, error) {
	if err := checkTones(base, tones); err != nil {
		return nil, err
	}
	if !p.continues(base, tones) {
		p.cycles.Restart()
	}
	p.base, p.tones = base, slices.Clone(tones)
	input := periodicInput(base, p.tones)
	cycle, err := p.cycles.Solve(input)
	if err != nil {
		return nil, fmt.Errorf("%s at base %s: %w", p.biased.setting, quantity.Format(base, quantity.Hertz), err)
	}
	return &Steady{biased: p.biased, cycle: cycle, base: base, peak: input.Peak}, nil
}

func checkTones(base float64, tones []Tone) error {
	legal := quantity.Range{Unit: quantity.Hertz, Min: 0.1, Max: 1e6}
	if err := legal.Check(base); err != nil {
		return &Error{Key: "base", Err: err}
	}
	if len(tones) == 0 {
		return &Error{Key: "tones", Err: fmt.Errorf("there are none")}
	}
	for _, t := range tones {
		if t.Order < 1 || t.Order > maximumOrder {
			return &Error{Key: "order", Err: fmt.Errorf("%d is outside the legal range, 1 to %d", t.Order, maximumOrder)}
		}
		if !(t.Peak > 0) || !finite(t.Peak, t.Phase) {
			return &Error{Key: "peak", Err: fmt.Errorf("%g V at a phase of %g is no tone", t.Peak, t.Phase)}
		}
	}
	return nil
}

// continues reports whether tones are those of the last solution but for their level.
func (p *Periodic) continues(base float64, tones []Tone) bool {
	if base != p.base || len(tones) != len(p.tones) {
		return false
	}
	for i, t := range tones {
		last := p.tones[i]
		if t.Order != last.Order || t.Phase != last.Phase ||
			math.Abs(t.Peak*p.tones[0].Peak-last.Peak*tones[0].Peak) > 1e-9*t.Peak*p.tones[0].Peak {
			return false
		}
	}
	return true
}

// periodicInput is the sum of tones, to be solved for from its highest peak.
func periodicInput(base float64, tones []Tone) network.Signal {
	at := func(seconds float64) float64 {
		sum := 0.0
		for _, t := range tones {
			sum += t.Peak * math.Cos(2*math.Pi*base*float64(t.Order)*seconds+t.Phase)
		}
		return sum
	}
	s := network.Signal{Period: 1 / base, At: at}
	fastest := 0
	for _, t := range tones {
		s.Peak += t.Peak
		fastest = max(fastest, t.Order)
	}
	s.Longest = s.Period / leastSteps(tones, s.Peak)
	looks := startLooks * fastest
	highest := math.Inf(-1)
	for i := range looks {
		seconds := s.Period * float64(i) / float64(looks)
		if v := at(seconds); v > highest {
			s.Start, highest = seconds, v
		}
	}
	return s
}

// leastSteps is how many steps a period of tones must have at least, so that none is
// overlooked: perCycle to a cycle of the fastest loud tone, of softer ones as many less as
// they are softer, and never under perSoftCycle. What more they need the mesh finds itself.
func leastSteps(tones []Tone, peak float64) float64 {
	most := 0.0
	for _, t := range tones {
		cycle := max(perSoftCycle, perCycle*min(1, t.Peak/(loudShare*peak)))
		most = max(most, cycle*float64(t.Order))
	}
	return most
}

// Steady is a stage's periodic state: one period of everything in it.
type Steady struct {
	biased *Biased
	cycle  *network.Cycle
	base   float64
	peak   float64
}

// Base returns the base frequency, Hz.
func (s *Steady) Base() float64 { return s.base }

// Lines returns the complex amplitudes, in volts, of the output at multiples of the
// base frequency, 0 being direct current: the output is the real part of the sum of
// line exp(2 pi i order base t), with the input's time. They are exact integrals of
// the waveform: nothing is aliased, and any order may be asked for, in any choice and
// most cheaply in rising ones. It panics on negative orders.
func (s *Steady) Lines(orders ...int) []complex128 { return s.cycle.Lines(orders) }

// Harmonics returns the lines of orders 0 to most.
func (s *Steady) Harmonics(most int) []complex128 {
	orders := make([]int, most+1)
	for i := range orders {
		orders[i] = i
	}
	return s.Lines(orders...)
}

// Uncertainty estimates by how much any line may be wrong, V: what the mesh leaves
// out of the waveform. Rounding, about 1e-12 of the supply, is not in it.
func (s *Steady) Uncertainty() float64 { return s.cycle.Doubt() }

// Steps returns how many steps the mesh of the period has.
func (s *Steady) Steps() int { return s.cycle.Steps() }

// Power returns the mean powers, conduction angles and class over the period, as
// [Biased.Power] does at midband, with a reactive load's current. Peak is the sum of the
// tones' peaks. What the load gets is the mean of output times its current.
func (s *Steady) Power() Power {
	b := s.biased
	p := Power{Peak: s.peak}
	var currents [][]float64
	var times, steps []float64
	s.cycle.Each(func(solver *network.Solver, seconds, share float64) {
		out := solver.Voltage(b.net.Out)
		p.Output = max(p.Output, math.Abs(out))
		p.Load += out * solver.Current(b.net.Load) * share
		b.enter(&p, solver, share, &currents)
		times = append(times, seconds)
	})
	for i, at := range times {
		before := times[len(times)-1] - 1/s.base
		if i > 0 {
			before = times[i-1]
		}
		steps = append(steps, (at-before)*s.base)
	}
	p.judge(b.net.Outputs, currents, steps)
	return p
}
