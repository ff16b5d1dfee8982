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
// Four samples are one step where the output runs smoothly; what it is inside is then
// taken from the polynomial through its last values. At kinks, as of a crossover, the
// step is split, and its parts again, and the output inside is solved for.
type Dynamic struct {
	biased    *Biased
	transient *network.Transient
	ledger    *Ledger
	ends      ends // of the last step,
	earlier   ends // and of the one before
	warmth    *Warmth
	force     float64 // of a loudspeaker load whose cone is known, Tm; 0 for none
	travel    float64 // force times the maximum displacement of the cone so far

	taken int                      // samples of the next step so far
	ready [network.Samples]float64 // output of the last step

	stride  float64 // seconds of a step
	seconds float64 // since the beginning
}

// Dynamic returns the stage at rest, to be moved through time at rate samples a
// second. Rates are 1 kHz to 1 GHz, and should be at least 16 times that of the audio.
//
// What is wrong under 20 kHz against hand-written integrations of an ideal pair into a
// loudspeaker, in dB re the peak at full drive, at 1 and at 10 kHz:
//
//	                        8x          16x          32x
//	resistive voice coil
//	  unbiased           -117 -114   -121 -125   -133 -133
//	  bias 1.2 V         -120 -112   -121 -127   -132 -135
//	  bias 1.3 V         -120 -122   -123 -117   -131 -136
//	voice coil with 0.3 mH
//	  unbiased           -102 -108   -112 -114   -117 -121
//	  bias 1.2 V         -120 -114   -120 -126   -134 -139
//	  bias 1.3 V         -120 -111   -130 -126   -139 -144
//
// Higher rates gain little, since steps are split where they must be. To take each
// junction's mean current over a step from its antiderivative instead (M. Holters,
// Applied Sciences 10(1):20, 2020) was weighed on the pair into a resistor: without
// splitting, means by antiderivatives were wrong by -93, -95 and -93 dB at 1 kHz and 8
// times, unbiased and at 1.2 and 1.3 V, and by -60, -67 and -66 dB at 10 kHz and 16
// times, where the trapezoidal rule was by -94, -93 and -93, and -66, -65 and -65 dB:
// what limits both is the voltage's bend over a step, not the junction's. All these
// figures are printed by
//
//	QUIETCROSS_LONG=1 go test -v -run 'SpeakerDelivered|Antiderivatives' ./stage/network
//
// Where a circuit has no more than two ports, steps are read from surfaces that are made as
// the signal comes by, at the same error. BenchmarkDynamic prints what a 48 kHz sample of
// a standing tone and of noise takes.
//
// A stage that oscillates about any of its operating points is refused with an
// error that wraps ErrUnstable.
func (b *Biased) Dynamic(rate float64) (*Dynamic, error) {
	legal := quantity.Range{Unit: quantity.Hertz, Min: 1e3, Max: 1e9}
	if err := legal.Check(rate); err != nil {
		return nil, &Error{Key: "rate", Err: err}
	}
	net, rest := b.stage.build(&b.made)
	if err := rest.Solve(); err != nil {
		return nil, fmt.Errorf("%s: %w", b.setting, err)
	}
	d := &Dynamic{biased: b.on(net, rest), transient: rest.Transient(network.Samples / rate), stride: network.Samples / rate}
	d.transient.Watch(net.In, net.Out)
	out := rest.Voltage(net.Out)
	for i := range d.ready {
		d.ready[i] = out
	}
	if load := b.stage.spec.Load; load.Resonance > 0 {
		d.force = load.Force
	}
	motions, err := d.motions(rest, rate)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", b.setting, err)
	}
	d.transient.Sharpen(motions)
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

// motions returns the stage's natural motions about operating points over the swing.
// A stage with one that grows is refused. The solver stays at rest.
func (d *Dynamic) motions(rest *network.Solver, rate float64) ([]complex128, error) {
	probe := rest.Fork()
	var all []complex128
	for _, part := range stabilityInputs {
		in := part * d.biased.clipping[1]
		probe.Set(d.biased.net.In, in)
		if err := probe.Solve(); err != nil {
			return nil, fmt.Errorf("input %s: %w", quantity.Format(in, quantity.Volt), err)
		}
		rates, ok := probe.Transient(1 / rate).Motions()
		if !ok {
			return nil, fmt.Errorf("%w: its motions about an input of %.3g V have no solution", ErrUnstable, in)
		}
		if g := network.Fastest(rates); g.Rate > restless {
			return nil, &Error{Key: "feedback", Err: fmt.Errorf(
				"%w: at an input of %.3g V it swings by itself at %.3g Hz and grows e-fold in %.2g s; "+
					"do not run such a stage, which can destroy itself and the loudspeaker: lower the gain-bandwidth product or raise the closed-loop gain",
				ErrUnstable, in, g.Hertz, 1/g.Rate)}
		}
		all = append(all, rates...)
	}
	return all, nil
}

const (
	// StepSamples is how many samples a Dynamic takes in one step.
	StepSamples = network.Samples
	// Latency is how many samples late the output of a Dynamic comes.
	Latency = StepSamples
)

// Process moves the stage through the input samples src, in volts, and puts the
// output voltage into dst, which may be src, Latency samples late. Each sample is the
// mean of the output about its time under a triangle as wide as two samples, so that
// what is too fast for the rate, such as the corners of a crossover or the step with
// which an inductive load leaves it, does not fold back; the triangle's response is
// (sin(x)/x)^2 with x = pi times the frequency over the rate, and is left to the
// caller to undo.
//
// Before the first sample the stage was at rest. The output does not depend on how the
// samples are cut into calls. Process panics unless dst and src have the same length.
// The error, which wraps network.ErrNoPoint, says at what input no solution was found;
// the samples before it are in dst.
func (d *Dynamic) Process(dst, src []float64) error {
	if len(dst) != len(src) {
		panic("stage: Process needs as many samples out as in")
	}
	for i, in := range src {
		if in-in != 0 { // no number, or an infinite one
			return errNotFinite
		}
		if d.taken < network.Samples-1 {
			d.transient.SetInside(d.taken, in)
			d.taken++
			dst[i] = d.ready[d.taken]
			continue
		}
		if err := d.step(in); err != nil {
			return err
		}
		d.taken = 0
		dst[i] = d.ready[0]
	}
	return nil
}

var errNotFinite = fmt.Errorf("%w: the input is not finite", network.ErrNoPoint)

// step takes one step to an input, which is its last sample.
func (d *Dynamic) step(in float64) error {
	d.transient.Set(d.biased.net.In, in)
	d.seconds += d.stride
	for _, gate := range d.biased.net.Gates {
		d.transient.Set(gate, d.biased.stage.spec.PowerSupply.Gate(d.seconds, d.stride))
	}
	if err := d.transient.Step(); err != nil {
		return fmt.Errorf("input %s: %w", quantity.Format(in, quantity.Volt), err)
	}
	d.transient.Under(&d.ready)
	d.account()
	return nil
}

// account keeps the records of the last step.
func (d *Dynamic) account() {
	if d.ledger != nil {
		d.ledger.Stored = d.transient.Stored() - d.ledger.opening
		d.ledger.Rule = d.transient.Rule()
	}
	if d.force > 0 {
		if _, integral := d.transient.Cone(0); math.Abs(integral) > d.travel {
			d.travel = math.Abs(integral)
		}
	}
	if d.warmth != nil {
		d.warm()
	}
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

// Steps returns how many steps were taken, with how many iterations, and how many were
// split for abruptness or because they did not settle.
func (d *Dynamic) Steps() network.Steps { return d.transient.Steps() }

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

// Excursion returns the maximum displacement of the cone from rest so far, in
// metres to either side, looked at once a step; 0 where Cone returns false.
func (d *Dynamic) Excursion() float64 {
	if d.force == 0 {
		return 0
	}
	return d.travel / d.force
}
