package stage

import (
	"errors"
	"fmt"
	"math"

	"quietcross/dsp/bracket"
	"quietcross/stage/circuits"
	"quietcross/stage/device"
	"quietcross/stage/heat"
	"quietcross/stage/quantity"
)

// A stage warms up from the air's temperature. Its junctions have small heat stores
// and follow the sink at once; the sink is slow. So the search walks the sink's
// temperature upward: at each it lets the junctions settle above the sink, and
// compares the sink's temperature with that which the powers would keep up. Where the
// two meet first, the stage comes to rest. The walk goes by the secant of the last two
// comparisons, which from below never passes the first rest of a curve that bends
// upward, as heating does; where it does pass one, since the bias part takes current
// back faster than the sink warms, the rest is bracketed. Where the junctions leave
// for good, at any sink temperature on the way, the stage runs away.

// ErrRunaway is what the error of a stage in thermal runaway wraps.
var ErrRunaway = errors.New("thermal runaway")

// ErrTooHot is what the error of a stage whose junctions settle above their maximum
// temperature wraps.
var ErrTooHot = errors.New("junction too hot")

// Verdict says how a stage's warming up ends.
type Verdict string

// The ends of warming up.
const (
	Settles Verdict = "settles"
	TooHot  Verdict = "too hot" // a junction passes its maximum temperature before all settles
	Runaway Verdict = "runaway" // so it does, and its heat grows faster than what carries it off
)

// Settled is a stage at the temperatures that its own heat gives it, with the
// conditions that belong to the verdict.
type Settled struct {
	Verdict Verdict
	// Setting, Source and Load are the bias, what holds it and the load's resistance in
	// ohms; the Conditions are those under which it warmed up.
	Setting Setting
	Source  Source
	Load    float64
	Conditions

	// Given up: the walk was left, with the temperatures as they were, 200 K beyond the
	// maximum. Otherwise they are steady.
	GivenUp bool

	Biased       *Biased // at these temperatures; nil after WarmUp
	Temperatures circuits.Temperatures
	Sink         float64 // K
	Cold         float64 // quiescent current before warming up, A
	Hot          float64 // quiescent current at these temperatures, A
	Power        Power   // at these temperatures
	// Feedback is the thermal loop gain at these temperatures: how much of a small
	// temperature change comes back through the circuit. At 1 and above there is no
	// steady point to stay at; it is negative where the bias part takes more back than
	// the devices add. JunctionFeedback is that before the sink and the bias part have
	// followed.
	Feedback         float64
	JunctionFeedback float64

	chain heat.Chain
	alone bool // there is one side of output devices
}

// Hottest returns the temperature of the hottest output junction, K.
func (s *Settled) Hottest() float64 { return max(s.Temperatures.Upper, s.Temperatures.Lower) }

// Err returns nil for a stage that settles within its limit, else an *Error that wraps
// ErrRunaway or ErrTooHot and names bias, source, load, air and drive.
func (s *Settled) Err() error {
	celsius := func(k float64) float64 { return k - device.ZeroCelsius }
	var reason error
	var course string
	switch s.Verdict {
	case Runaway:
		reason = ErrRunaway
		course = fmt.Sprintf("the heat grows faster than it is carried off; it was followed until a junction was at %.0f C", celsius(s.Hottest()))
	case TooHot:
		reason = ErrTooHot
		course = fmt.Sprintf("a junction settles at %.0f C", celsius(s.Hottest()))
		if s.GivenUp {
			course = fmt.Sprintf("a junction passes %.0f C and goes on", celsius(s.Hottest()))
		}
	default:
		return nil
	}
	drive := "at rest"
	switch peak := quantity.Format(fourDigits(s.Signal.Peak()), quantity.Volt); {
	case s.Signal.IsProgramme():
		drive = "with a programme of " + peak + " peak at the input"
	case s.Signal.Peak() > 0:
		drive = "with a sine of " + peak + " peak at the input"
	}
	shown := s.Setting
	shown.value = fourDigits(shown.value)
	return &Error{Key: "thermal", Err: fmt.Errorf(
		"%w: %v (%s), load %s, air %.0f C, %s: %s, where %.0f C is the maximum; "+
			"do not run such a stage: lower the bias or the rails, couple the bias part to the sink, or give it emitter resistors and a larger sink",
		reason, shown, s.Source, quantity.Format(s.Load, quantity.Ohm), celsius(s.Air), drive, course, celsius(s.Maximum))}
}

const (
	walkSteps    = 300
	settleKelvin = 1e-4  // the part of a temperature that may be left to settle
	beyondLimit  = 200.0 // kelvins over the maximum junction temperature: given up
	longestStep  = 50.0  // of the sink, K
	shortestStep = 0.5   // K; a runaway met within such a step is one
	nudge        = 0.01  // K, for the thermal loop gain
)

// Conditions are what a stage warms up under.
type Conditions struct {
	Air     float64 // ambient temperature, K
	Maximum float64 // of a junction's temperature, K
	Signal  Signal
}

// Conditions returns those of the spec's own air and maximum junction temperature.
func (s *Stage) Conditions(signal Signal) Conditions {
	return Conditions{Air: s.spec.Thermal.Ambient, Maximum: s.spec.Thermal.MaximumJunction, Signal: signal}
}

// Settle is SettleUnder the spec's own [Stage.Conditions] with a sine of peak input volts
// (0: no signal).
func (s *Stage) Settle(setting Setting, peak float64) (Settled, error) {
	return s.SettleUnder(setting, s.Conditions(Sine(peak)))
}

// SettleUnder finds the steady temperatures of a stage under conditions and returns the
// stage at them. The setting is made cold or warm, as it says, and its source or parts then stay
// as they are while the junctions warm up; bias parts follow the sink by the spec's
// coupling, and an ideal source holds.
//
// The point found is the one that a stage switched on would reach. A bias that runs
// away, or that settles above the maximum junction temperature, comes with the error of
// [Settled.Err], and the Settled says how far it went: its Biased may then be nil. Such
// a stage must not be built: it destroys itself and can burn.
func (s *Stage) SettleUnder(setting Setting, c Conditions) (Settled, error) {
	settled, on, err := s.warmUp(setting, c)
	if on == nil {
		return settled, err
	}
	if failed := on.findClipping(); failed != nil {
		if err == nil {
			err = fmt.Errorf("%s: %w", setting, failed)
		}
		return settled, err
	}
	settled.Biased = on
	return settled, err
}

// WarmUp finds what SettleUnder does but for the stage at the temperatures, whose clipping
// onset is dear: Biased is nil.
func (s *Stage) WarmUp(setting Setting, c Conditions) (Settled, error) {
	settled, _, err := s.warmUp(setting, c)
	return settled, err
}

// WarmUp is [Stage.WarmUp] of a setting that is made already.
func (b *Biased) WarmUp(c Conditions) (Settled, error) {
	settled, _, err := b.stage.settle(b.setting, b.made, c)
	return settled, err
}

// warmUp makes a setting and warms it up.
func (s *Stage) warmUp(setting Setting, c Conditions) (Settled, *Biased, error) {
	m, err := s.make(setting)
	if err != nil {
		return Settled{}, nil, named(setting, err)
	}
	return s.settle(setting, m, c)
}

// settle warms a made setting up. The Biased, at the temperatures, has no clipping onset
// yet; it is nil where those have no solution.
func (s *Stage) settle(setting Setting, m made, c Conditions) (Settled, *Biased, error) {
	on := s.built(setting, m)
	cold, err := on.at(circuits.Uniform(s.spec.Thermal.Ambient))
	if err != nil {
		return Settled{}, nil, err
	}
	w := warming{stage: s, on: on, conditions: c, profile: c.Signal.coarse(), t: circuits.Uniform(c.Air)}
	rest, err := w.walk(c.Air)
	if err != nil {
		return Settled{}, nil, err
	}
	settled := Settled{
		Verdict: Settles, Setting: setting, Source: cold.Source(), Load: s.spec.Load.Ohms, Conditions: c,
		Temperatures: w.t, Sink: w.sink, Cold: cold.point.Quiescent, Power: w.power,
		GivenUp: !rest, Feedback: math.Inf(1), JunctionFeedback: math.Inf(1), // where not even the last temperatures have a solution
		chain: s.Chain(), alone: len(cold.net.Sides) == 1,
	}
	if err := w.loops(&settled); err != nil && rest {
		return Settled{}, nil, err
	}
	switch {
	case !rest && settled.Feedback >= 1:
		settled.Verdict = Runaway
	case !rest || settled.Hottest() > settled.Maximum:
		settled.Verdict = TooHot
	}
	hot, err := on.at(w.t)
	if err == nil {
		settled.Power, err = hot.PowerOf(c.Signal)
	}
	switch {
	case err == nil:
		settled.Hot = hot.point.Quiescent
	case rest:
		return Settled{}, nil, err
	}
	return settled, hot, settled.Err()
}

// warming is a stage on its way to steady temperatures.
type warming struct {
	stage      *Stage
	on         *built
	conditions Conditions
	profile    Profile // of the signal
	sides      [][]int // output devices

	t     circuits.Temperatures // the last that were solved at
	sink  float64
	power Power
}

// errLeft tells that the junctions left for good at a sink temperature.
var errLeft = errors.New("the junctions run away")

// walk takes the sink upward to its first rest, and reports whether there is one.
func (w *warming) walk(air float64) (rest bool, err error) {
	x := air
	y, err := w.lack(x)
	if errors.Is(err, errLeft) {
		return false, nil
	}
	if err != nil {
		return false, err
	}
	slope := -1.0
	for range walkSteps {
		if math.Abs(y) < settleKelvin*min(1, math.Abs(slope)) {
			return true, nil
		}
		step := w.stride(y, slope)
		next, z, err := w.advance(x, step)
		switch {
		case errors.Is(err, errLeft):
			return false, nil
		case err != nil:
			return false, err
		case z < 0:
			at, err := bracket.Root(w.between(x, y, next, z), x, next, settleKelvin/10)
			if err != nil {
				return false, err
			}
			_, err = w.lack(at)
			return err == nil, err
		}
		slope, x, y = (z-y)/(next-x), next, z
	}
	return false, nil
}

// between is lack with the two values that are known already: the junctions settle to a
// part of settleKelvin, from another side to another part, and a rest that the walk has
// met but for that would have no sign the second time.
func (w *warming) between(x, y, next, z float64) func(sink float64) (float64, error) {
	return func(sink float64) (float64, error) {
		switch sink {
		case x:
			return y, nil
		case next:
			return z, nil
		}
		return w.lack(sink)
	}
}

// stride is the next step of the sink, K.
func (w *warming) stride(y, slope float64) float64 {
	if slope >= 0 {
		return longestStep / 4 // the lack grows: there is no rest ahead if it bends upward
	}
	return min(-y/slope, longestStep)
}

// advance takes a step of the sink, or part of it where the junctions run away at its
// end.
func (w *warming) advance(x, step float64) (next, lack float64, err error) {
	before := *w
	for {
		lack, err = w.lack(x + step)
		if !errors.Is(err, errLeft) || step < shortestStep {
			return x + step, lack, err
		}
		*w = before
		step /= 4
	}
}

// solve finds the powers at the present temperatures.
func (w *warming) solve() error {
	b, err := w.on.at(w.t)
	if err != nil {
		return err
	}
	w.sides = b.net.Sides
	w.power, err = b.powerOver(w.profile, w.conditions.Signal.Peak())
	return err
}

func (w *warming) hottest() float64 { return max(w.t.Upper, w.t.Lower) }

// Chain returns the thermal path of the stage's output devices.
func (s *Stage) Chain() heat.Chain {
	th := s.spec.Thermal
	return heat.Chain{
		Ambient: th.Ambient, JunctionToCase: th.JunctionToCase,
		CaseToSink: th.CaseToSink, SinkToAir: th.SinkToAir,
	}
}

// kept is temperatures that powers keep up, with the sink's.
type kept struct {
	circuits.Temperatures
	sink float64
}

// biasPart returns the bias part's temperature with the sink at one.
func (w *warming) biasPart(sink float64) float64 {
	air := w.conditions.Air
	return air + w.stage.spec.Thermal.Coupling*(sink-air)
}

// steady returns the temperatures that the present powers keep up.
func (w *warming) steady() kept {
	total := 0.0
	for _, side := range w.sides {
		for _, o := range side {
			total += w.power.Devices[o].Mean
		}
	}
	sink := w.conditions.Air + w.stage.spec.Thermal.SinkToAir*total
	next := w.aboveSink(sink)
	next.Bias = w.biasPart(sink)
	return kept{next, sink}
}

// apart is the maximum difference of two sets of temperatures, K.
func apart(a, b circuits.Temperatures) float64 {
	return max(math.Abs(a.Upper-b.Upper), math.Abs(a.Lower-b.Lower), math.Abs(a.Bias-b.Bias))
}
