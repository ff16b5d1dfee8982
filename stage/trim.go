package stage

import (
	"errors"
	"math"
	"strconv"

	"quietcross/dsp/bracket"
	"quietcross/dsp/elementary"
	"quietcross/stage/circuits"
	"quietcross/stage/network"
	"quietcross/stage/quantity"
)

// A setting is carried out in two ways. An ideal source has a voltage, on which the
// quiescent current rises, and a bracketed search finds it. The trimmed part of a
// circuit has a position (circuits.Trim): from where the part stands as built the
// search walks toward more or less bias in growing steps until the current is passed,
// and closes in between the last two. It thus needs no solution at the ends of the
// part's range, where a stage may burn amperes or have no operating point at all. A
// setting for a warm stage is made at the temperatures that its own heat gives it:
// they follow from the current, so that making and heating in turn settles in a few
// rounds.

// made is a setting carried out.
type made struct {
	parts   circuits.Parts // with the trimmed part set
	forced  bool
	volts   float64 // of the ideal source, where there is one
	trimmer *circuits.Trimmer
}

// build makes the network of a made setting and its solver.
func (s *Stage) build(m *made) (*circuits.Network, *network.Solver) {
	net := s.kind.Build(&m.parts, m.forced, s.warm)
	solver := net.Circuit.Compile()
	if m.forced {
		net.SetBias(solver, m.volts)
	}
	return net, solver
}

// cold returns the stage with every junction at the ambient temperature.
func (s *Stage) cold() *Stage { return s.At(circuits.Uniform(s.spec.Thermal.Ambient)) }

// make carries a setting out.
func (s *Stage) make(setting Setting) (made, error) {
	switch setting.mode {
	case asBuilt:
		return made{parts: s.spec.Parts}, nil
	case forcedBias:
		legal := quantity.Range{Unit: quantity.Volt, Min: 0, Max: s.kind.MaximumBias}
		if err := legal.Check(setting.value); err != nil {
			return made{}, &Error{Key: "bias", Err: err}
		}
		return made{parts: s.spec.Parts, forced: true, volts: setting.value}, nil
	}
	if setting.warm {
		return s.makeWarm(setting)
	}
	return s.cold().makeHere(setting)
}

// makeHere makes a setting of a quiescent current at the stage's temperatures.
func (s *Stage) makeHere(setting Setting) (made, error) {
	if trim := s.kind.Trim(&s.spec.Parts); trim != nil && setting.mode == trimmedQuiescent {
		return s.trim(trim, setting.value)
	}
	volts, err := s.biasFor(setting.value)
	return made{parts: s.spec.Parts, forced: true, volts: volts}, err
}

// minimumQuiescent is the minimum quiescent current, in amperes, that a bias is
// solved for; it is under the leakage of any power device.
const minimumQuiescent = 1e-15

// unreachable returns the refusal of a current, with the range that is reached.
func unreachable(amperes, lo, hi float64) error {
	legal := quantity.Range{Unit: quantity.Ampere, Min: max(lo, minimumQuiescent), Max: hi}
	// The limits are solved for: four digits say all that they mean.
	rounded := quantity.Range{Unit: legal.Unit, Min: fourDigits(legal.Min), Max: fourDigits(legal.Max)}
	err := rounded.Check(amperes)
	if err == nil {
		err = legal.Check(amperes)
	}
	return &Error{Key: "quiescent", Err: err}
}

// fourDigits rounds a value to four significant digits.
func fourDigits(v float64) float64 {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 4, 64), 64)
	if err != nil {
		panic("stage: " + err.Error()) // FormatFloat writes what ParseFloat reads
	}
	return rounded
}

// logRatio is the logarithm of a current re another, defined where one does not flow.
func logRatio(amperes, to float64) float64 {
	return elementary.Log(max(amperes, math.SmallestNonzeroFloat64) / to)
}

// biasFor finds the bias of an ideal source that gives a quiescent current at the
// stage's temperatures.
func (s *Stage) biasFor(amperes float64) (float64, error) {
	lo, hi, err := s.heldRange()
	if err != nil {
		return 0, err
	}
	if !(amperes >= max(lo, minimumQuiescent) && amperes <= hi) {
		return 0, unreachable(amperes, lo, hi)
	}
	at := s.quiescentAt()
	return bracket.Root(func(volts float64) (float64, error) {
		i, err := at(volts)
		return logRatio(i, amperes), err
	}, 0, s.kind.MaximumBias, 0)
}

// heldRange returns the quiescent currents at the ends of the legal bias.
func (s *Stage) heldRange() (lo, hi float64, err error) {
	at := s.quiescentAt()
	if lo, err = at(0); err != nil {
		return 0, 0, err
	}
	hi, err = at(s.kind.MaximumBias)
	return lo, hi, err
}

// quiescentAt returns the quiescent current as a function of the ideal source's volts.
func (s *Stage) quiescentAt() func(volts float64) (float64, error) {
	net, solver := s.build(&made{parts: s.spec.Parts, forced: true})
	return func(volts float64) (float64, error) {
		net.SetBias(solver, volts)
		if err := solver.Solve(); err != nil {
			return 0, &Error{Key: "bias", Err: errors.Join(errors.New(quantity.Format(volts, quantity.Volt)), err)}
		}
		return quiescent(net, solver), nil
	}
}

// trimAt returns the quiescent current with the trimmed part at a position.
func (s *Stage) trimAt(trim *circuits.Trim, position float64) (float64, error) {
	parts, _ := trim.Set(s.spec.Parts, position)
	net, solver := s.build(&made{parts: parts})
	if err := solver.Solve(); err != nil {
		return 0, err
	}
	return quiescent(net, solver), nil
}

// asItIs is how near the current as built a wanted one is taken for it.
const asItIs = 1e-11

// trim finds the trimmed part for a quiescent current.
func (s *Stage) trim(trim *circuits.Trim, amperes float64) (made, error) {
	if !(amperes >= minimumQuiescent) || math.IsInf(amperes, 0) {
		lo, hi, err := s.trimRange(trim)
		if err != nil {
			return made{}, err
		}
		return made{}, unreachable(amperes, lo, hi)
	}
	m, found, err := s.trimFrom(&s.spec.Parts, trim, amperes, 0)
	if err != nil {
		return made{}, err
	}
	if !found {
		lo, hi, err := s.trimRange(trim)
		if err != nil {
			return made{}, err
		}
		return made{}, unreachable(amperes, lo, hi)
	}
	return m, nil
}

// trimFrom finds the trimmed part within a tolerance, in legs, beginning where it stands
// in parts, and reports whether the current is reached.
func (s *Stage) trimFrom(parts *circuits.Parts, trim *circuits.Trim, amperes, tolerance float64) (m made, found bool, err error) {
	w := walk{stage: s, trim: trim, wanted: amperes, at: trim.Position(parts)}
	if found, err = w.toward(); err != nil || !found {
		return made{}, false, err
	}
	position := w.at
	if w.last != w.at {
		if position, err = bracket.Root(w.off, min(w.last, w.at), max(w.last, w.at), tolerance); err != nil {
			return made{}, false, err
		}
	}
	trimmed, trimmer := trim.Set(s.spec.Parts, position)
	return made{parts: trimmed, trimmer: &trimmer}, true, nil
}

// walk goes from a position of the part toward more or less bias.
type walk struct {
	stage    *Stage
	trim     *circuits.Trim
	wanted   float64
	last, at float64 // positions that hold the current between them, or one that has it
}

// off is the logarithm of the current at a position re that wanted.
func (w *walk) off(position float64) (float64, error) {
	i, err := w.stage.trimAt(w.trim, position)
	return logRatio(i, w.wanted), err
}

// The steps of the walk, in legs, and what tells that more of the part gives no more
// current.
const (
	firstStep  = 0.01
	stepGrowth = 1.6
	turned     = 1e-6
)

// toward walks until the wanted current is passed, and reports whether it was.
func (w *walk) toward() (found bool, err error) {
	w.last = w.at
	y, err := w.off(w.at)
	if err != nil {
		return false, err
	}
	if math.Abs(y) < asItIs {
		return true, nil
	}
	direction := -math.Copysign(1, y)
	for step := firstStep; ; step *= stepGrowth {
		next := min(max(w.at+direction*step, 0), w.trim.Legs())
		if next == w.at {
			return false, nil
		}
		z, err := w.off(next)
		if errors.Is(err, network.ErrNoPoint) || (z-y)*direction < -turned {
			return false, nil // the end of what the part does
		}
		if err != nil {
			return false, err
		}
		w.last, w.at, y = w.at, next, z
		if y*direction >= 0 {
			return true, nil
		}
	}
}

// trimRange returns the quiescent currents at the ends of what the trimmed part does.
func (s *Stage) trimRange(trim *circuits.Trim) (lo, hi float64, err error) {
	for i, wanted := range []float64{minimumQuiescent / 1e3, math.MaxFloat64} {
		w := walk{stage: s, trim: trim, wanted: wanted, at: trim.Position(&s.spec.Parts)}
		if _, err := w.toward(); err != nil {
			return 0, 0, err
		}
		current, err := s.trimAt(trim, w.at)
		if err != nil {
			return 0, 0, err
		}
		if i == 0 {
			lo = current
		} else {
			hi = current
		}
	}
	return lo, hi, nil
}

// QuiescentRange returns the minimum and the maximum quiescent current, in amperes, that
// the stage's trimmed part gives with every junction at the ambient temperature, or an
// ideal source in a stage without bias parts.
func (s *Stage) QuiescentRange() (lo, hi float64, err error) {
	if trim := s.kind.Trim(&s.spec.Parts); trim != nil {
		return s.cold().trimRange(trim)
	}
	return s.HeldRange()
}

// HeldRange returns the minimum and the maximum quiescent current, in amperes, that an
// ideal source within the circuit's range gives with every junction at the ambient
// temperature.
func (s *Stage) HeldRange() (lo, hi float64, err error) { return s.cold().heldRange() }

// The rounds of a warm setting, and the change of a temperature, K, under which it is
// made.
const (
	warmRounds = 60
	warmKelvin = 1e-7
)

// makeWarm makes a setting whose current flows when the stage has warmed up at rest.
func (s *Stage) makeWarm(setting Setting) (made, error) {
	w := warming{stage: s, conditions: s.Conditions(Sine(0)), t: s.cold().warm}
	w.profile = w.conditions.Signal.coarse()
	for range warmRounds {
		m, err := s.At(w.t).makeHere(setting)
		if err != nil {
			return made{}, err
		}
		w.on = s.built(setting, m)
		if err := w.solve(); err != nil {
			return made{}, err
		}
		next := w.steady().Temperatures
		change := apart(next, w.t)
		if w.t = next; change < warmKelvin {
			break
		}
	}
	return w.on.made, s.comesWarm(setting, w.on.made)
}

// comesWarm refuses a warm setting at which the stage does not arrive by itself.
func (s *Stage) comesWarm(setting Setting, m made) error {
	settled, _, err := s.settle(setting, m, s.Conditions(Sine(0)))
	if errors.Is(err, ErrTooHot) {
		return nil // it does arrive, which is for the one who settles it to tell
	}
	if err != nil {
		return err
	}
	if math.Abs(logRatio(settled.Hot, setting.value)) > 1e-3 {
		return &Error{Key: "quiescent", Err: errNotWarm}
	}
	return nil
}

var errNotWarm = errors.New("the stage does not settle at this current when it is trimmed for it warm; trim it cold")
