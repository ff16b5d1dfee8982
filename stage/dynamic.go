package stage

import (
	"errors"
	"fmt"
	"math"

	"quietcross/stage/circuits"
	"quietcross/stage/network"
	"quietcross/stage/quantity"
)

// HasMemory reports whether the stage's circuit stores energy, in capacitors,
// windings or a loudspeaker: its output then depends on more than the present
// input, and its transfer curve is that of midband signals only.
func (s *Stage) HasMemory() bool {
	net := s.kind.Build(&s.spec.Parts, false, s.warm)
	return net.Circuit.Dynamic()
}

// ErrUnstable is what the refusal of a stage that oscillates wraps.
var ErrUnstable = errors.New("the stage is not stable")

// Dynamic is a biased stage in time: every store of the circuit is followed from
// its state at rest. It is for one goroutine at a time.
//
// Four samples are one step where the output runs smoothly; those inside are then
// interpolated from the output's polynomial. At kinks, as of a crossover, the step
// is split and all are solved for. Samples left over at the end of a call are steps of
// their own, so calls with a multiple of four are quickest.
type Dynamic struct {
	biased    *Biased
	transient *network.Transient // the one of fours or of singles that is up to date
	fours     *network.Transient
	singles   *network.Transient
	ledger    *Ledger
	ends      ends
	warmth    *Warmth
	force     float64 // of a loudspeaker load whose cone is known, Tm; 0 for none
	excursion float64 // greatest displacement of the cone so far, m
}

// Dynamic returns the stage at rest, to be moved through time at rate steps a
// second, each from one input sample to the next; a step in which a store or the
// output moves abruptly is split. Rates are 1 kHz to 1 GHz, and should be at least 16
// times that of the audio.
//
// The samples of a pair with a loudspeaker and of one in a feedback loop are within
// -100 dB re the peak of hand-written integrations at 1 kHz and -83 dB at 10 kHz, at 16
// times 48 kHz. What then is wrong under 20 kHz, in dB re the fundamental at full
// drive against 512 times 48 kHz: at 1 kHz in the harmonics, at 10 kHz in lines that
// fold back; and the processor time a 48 kHz sample of a 1 kHz tone took:
//
//	                        8x         16x          32x
//	resistive voice coil
//	  unbiased              -110 -61   -119  -80    -134  -88
//	  bias 1.2 V            -109 -79   -124  -88    -139 -100
//	  bias 1.3 V            -114 -90   -126 -105    -139 -127
//	  as built              -114 -104  -126 -150    -138 -138
//	voice coil with 0.3 mH
//	  unbiased               -73 -58    -94  -64     -83  -70    5.4, 3.7, 5.1 us
//	  bias 1.2 V            -101 -83   -112  -94    -124 -107
//	  bias 1.3 V            -103 -105  -114 -132    -124 -179    1.7, 2.0, 2.1 us
//	  as built              -104 -153  -114 -193    -125 -241    1.9, 2.9, 3.5 us
//
// An unbiased pair into an inductive voice coil steps its output by the whole dead
// zone in no time, which sampling cannot follow.
//
// A stage that oscillates about any of its operating points is refused with an
// error that wraps ErrUnstable.
func (b *Biased) Dynamic(rate float64) (*Dynamic, error) {
	legal := quantity.Range{Unit: quantity.Hertz, Min: 1e3, Max: 1e9}
	if err := legal.Check(rate); err != nil {
		return nil, &Error{Key: "rate", Err: err}
	}
	net, rest := b.stage.build(b.setting.Forced(), b.volts)
	if err := rest.Solve(); err != nil {
		return nil, fmt.Errorf("%s: %w", b.setting, err)
	}
	d := &Dynamic{biased: b.on(net, rest), fours: rest.Transient((network.Between + 1) / rate), singles: rest.Transient(1 / rate)}
	d.fours.Watch(net.In, net.Out)
	d.transient = d.fours
	if load := b.stage.spec.Load; load.Resonance > 0 {
		d.force = load.Force
	}
	if err := d.checkStability(rest, rate); err != nil {
		return nil, fmt.Errorf("%s: %w", b.setting, err)
	}
	return d, nil
}

// on returns the same bias on another network and solver.
func (b *Biased) on(net *circuits.Network, solver *network.Solver) *Biased {
	own := *b
	own.net, own.solver = net, solver
	return &own
}

// stabilityInputs are where a stage's natural motions are looked at, in parts of
// the clipping onset.
var stabilityInputs = []float64{0, 0.05, -0.05, 0.5, -0.5, 0.9, -0.9}

// restless is the rate, in 1/s, from which a motion counts as growing.
const restless = 1

// checkStability refuses a stage whose natural motions grow about its operating
// points over the swing. It leaves the solver at rest.
func (d *Dynamic) checkStability(rest *network.Solver, rate float64) error {
	probe := rest.Fork()
	for _, part := range stabilityInputs {
		in := part * d.biased.clipping[1]
		probe.Set(d.biased.net.In, in)
		if err := probe.Solve(); err != nil {
			return fmt.Errorf("input %s: %w", quantity.Format(in, quantity.Volt), err)
		}
		if g := probe.Transient(1 / rate).Growth(); g.Rate > restless {
			return &Error{Key: "feedback", Err: fmt.Errorf(
				"%w: at an input of %.3g V it swings by itself at %.3g Hz and grows e-fold in %.2g s; "+
					"do not run such a stage, which can destroy itself and the loudspeaker: lower the gain-bandwidth product or raise the closed-loop gain",
				ErrUnstable, in, g.Hertz, 1/g.Rate)}
		}
	}
	return nil
}

// Process moves the stage through the input samples src, in volts, and puts the
// output voltage at each into dst, which may be src. It panics unless both have
// the same length. The error, which wraps network.ErrNoPoint, says at what input
// no solution was found; the samples before it are in dst.
func (d *Dynamic) Process(dst, src []float64) error {
	if len(dst) != len(src) {
		panic("stage: Process needs as many samples out as in")
	}
	i := 0
	for ; i+network.Between < len(src); i += network.Between + 1 {
		if err := d.four(dst[i:], src[i:]); err != nil {
			return err
		}
	}
	for ; i < len(src); i++ {
		d.resume(d.singles)
		if err := d.next(src[i]); err != nil {
			return err
		}
		dst[i] = d.output()
	}
	return nil
}

// four takes one step of several samples.
func (d *Dynamic) four(dst, src []float64) error {
	d.resume(d.fours)
	for i, in := range src[:network.Between] {
		if !finite(in) {
			return errNotFinite
		}
		d.fours.SetInside(i, in)
	}
	if err := d.next(src[network.Between]); err != nil {
		return err
	}
	for i := range network.Between {
		dst[i] = d.fours.Inside(i)
	}
	dst[network.Between] = d.output()
	return nil
}

var errNotFinite = fmt.Errorf("%w: the input is not finite", network.ErrNoPoint)

func (d *Dynamic) output() float64 { return d.transient.Solver().Voltage(d.biased.net.Out) }

// resume goes on with a transient from where the other one is.
func (d *Dynamic) resume(t *network.Transient) {
	if t != d.transient {
		t.ContinueFrom(d.transient)
		d.transient = t
	}
}

// next takes one step of the present transient to an input.
func (d *Dynamic) next(in float64) error {
	if !finite(in) {
		return errNotFinite
	}
	d.transient.Set(d.biased.net.In, in)
	if err := d.transient.Step(); err != nil {
		return fmt.Errorf("input %s: %w", quantity.Format(in, quantity.Volt), err)
	}
	if d.ledger != nil {
		d.ledger.Stored = d.transient.Stored() - d.ledger.opening
	}
	if d.force > 0 {
		_, integral := d.transient.Cone(0)
		d.excursion = max(d.excursion, math.Abs(integral)/d.force)
	}
	if d.warmth != nil {
		d.warm()
	}
	return nil
}

// finite reports whether all values are numbers within bounds.
func finite(values ...float64) bool {
	for _, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return false
		}
	}
	return true
}

// Steps returns how many steps were taken, with how many iterations, and how many
// were split for abruptness or because they did not settle.
func (d *Dynamic) Steps() network.Steps {
	p, s := d.fours.Steps(), d.singles.Steps()
	return network.Steps{
		Taken: p.Taken + s.Taken, Iterations: p.Iterations + s.Iterations,
		Refined: p.Refined + s.Refined, Retried: p.Retried + s.Retried,
	}
}

// Cone is the movement of a loudspeaker's cone.
type Cone struct {
	Displacement float64 // from rest, m
	Velocity     float64 // m/s
	Current      float64 // in the voice coil, A
}

// Cone returns the cone's movement at the last sample, and false where the load
// is no loudspeaker or its force factor is unknown.
func (d *Dynamic) Cone() (Cone, bool) {
	if d.force == 0 {
		return Cone{}, false
	}
	induced, integral := d.transient.Cone(0)
	return Cone{
		Displacement: integral / d.force, Velocity: induced / d.force,
		Current: d.transient.Solver().Current(d.biased.net.Load),
	}, true
}

// Excursion returns the greatest displacement of the cone from rest so far, in
// metres to either side, looked at once a step; 0 where Cone returns false.
func (d *Dynamic) Excursion() float64 { return d.excursion }
