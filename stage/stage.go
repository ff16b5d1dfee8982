package stage

import (
	"fmt"
	"math"
	"strconv"

	"quietcross/stage/circuits"
	"quietcross/stage/network"
	"quietcross/stage/quantity"
)

// Stage is a checked Spec, ready to be biased. It is safe for concurrent use.
type Stage struct {
	spec Spec
	kind *circuits.Kind
	warm circuits.Temperatures
}

// New checks a spec and returns its stage, with every junction at the ambient
// temperature. The error is the first illegal value, an *Error.
func New(spec Spec) (*Stage, error) {
	if err := spec.Check(); err != nil {
		return nil, err
	}
	kind, err := circuits.Lookup(spec.Circuit)
	if err != nil {
		return nil, err
	}
	return &Stage{spec: spec, kind: kind, warm: circuits.Uniform(spec.Thermal.Ambient)}, nil
}

// At returns the same stage with its junctions at other absolute temperatures,
// in kelvins.
func (s *Stage) At(t circuits.Temperatures) *Stage {
	other := *s
	other.warm = t
	return &other
}

// Spec returns the stage's spec.
func (s *Stage) Spec() Spec { return s.spec }

// HasDriver reports whether a class A driver stands before the output stage.
func (s *Stage) HasDriver() bool { return s.spec.Driver.Fitted }

// Inverts reports whether the output falls while the input rises, as behind a driver
// whose collector drives the stage: its gains are then negative.
func (s *Stage) Inverts() bool { return s.kind.Inverts(&s.spec.Parts) }

// Temperatures returns the junction temperatures the stage is solved at, K.
func (s *Stage) Temperatures() circuits.Temperatures { return s.warm }

// OptimumQuiescent returns the quiescent current, in amperes, that the circuit's
// theory holds best. For an emitter-follower pair it is kT/q over the resistance
// in each emitter, times the emission coefficient, where the output resistance
// at rest equals that at full swing (B. M. Oliver, Hewlett-Packard Journal,
// February 1971). It is 0 when the part values give none.
func (s *Stage) OptimumQuiescent() float64 {
	if s.kind.Reference == nil {
		return 0
	}
	return s.kind.Reference(&s.spec.Parts, s.warm)
}

// fallbackReference is a quiescent current for the ladder of a stage without a
// reference: a twentieth of the current at full swing.
func (s *Stage) fallbackReference() float64 { return s.kind.PeakCurrent(&s.spec.Parts) / 20 }

// Set biases the stage and finds its operating point and clipping onset. An
// operating point that does not exist, a bias outside the circuit's range or an
// unreachable quiescent current is an error that says why.
func (s *Stage) Set(setting Setting) (*Biased, error) {
	volts := setting.value
	if setting.mode == forcedQuiescent {
		var err error
		if volts, err = s.biasFor(setting.value); err != nil {
			return nil, err
		}
	}
	if setting.mode == forcedBias {
		legal := quantity.Range{Unit: quantity.Volt, Min: 0, Max: s.kind.MaximumBias}
		if err := legal.Check(volts); err != nil {
			return nil, &Error{Key: "bias", Err: err}
		}
	}
	return s.bias(setting, volts)
}

// bias builds the stage with a bias and surveys it.
func (s *Stage) bias(setting Setting, volts float64) (*Biased, error) {
	b, err := s.restAt(setting, volts)
	if err != nil {
		return nil, err
	}
	if err := b.findClipping(); err != nil {
		return nil, fmt.Errorf("%s: %w", setting, err)
	}
	return b, nil
}

// restAt builds the stage with a bias and solves it with no signal. What its
// capacitors and inductors hold there, they go on holding.
func (s *Stage) restAt(setting Setting, volts float64) (*Biased, error) {
	b := &Biased{stage: s, setting: setting, volts: volts}
	b.net, b.solver = s.build(setting.Forced(), volts)
	if err := b.rest(); err != nil {
		return nil, fmt.Errorf("%s: %w", setting, err)
	}
	if b.net.Circuit.Dynamic() {
		b.solver = b.solver.Midband()
	}
	return b, nil
}

// build makes the network and its solver, forced to a bias or as built.
func (s *Stage) build(forced bool, volts float64) (*circuits.Network, *network.Solver) {
	net := s.kind.Build(&s.spec.Parts, forced, s.warm)
	solver := net.Circuit.Compile()
	if forced {
		net.SetBias(solver, volts)
	}
	return net, solver
}

// quiescent returns the mean current of the output devices at a solution.
func quiescent(net *circuits.Network, solver *network.Solver) float64 {
	sum := 0.0
	for _, i := range net.Outputs {
		sum += solver.Device(i).Current
	}
	return sum / float64(len(net.Outputs))
}

// QuiescentRange returns the minimum and the maximum quiescent current, in
// amperes, that an ideal bias within the circuit's range gives.
func (s *Stage) QuiescentRange() (lo, hi float64, err error) {
	at := s.quiescentAt()
	if lo, err = at(0); err != nil {
		return 0, 0, err
	}
	hi, err = at(s.kind.MaximumBias)
	return lo, hi, err
}

// quiescentAt returns the quiescent current as a function of the forced bias.
func (s *Stage) quiescentAt() func(volts float64) (float64, error) {
	net, solver := s.build(true, 0)
	return func(volts float64) (float64, error) {
		net.SetBias(solver, volts)
		if err := solver.Solve(); err != nil {
			return 0, fmt.Errorf("bias %s: %w", quantity.Format(volts, quantity.Volt), err)
		}
		return quiescent(net, solver), nil
	}
}

// minimumQuiescent is the minimum quiescent current, in amperes, that a bias is
// solved for; it is under the leakage of any power device.
const minimumQuiescent = 1e-15

// biasFor finds the bias that gives a quiescent current.
func (s *Stage) biasFor(amperes float64) (float64, error) {
	at := s.quiescentAt()
	lo, err := at(0)
	if err != nil {
		return 0, err
	}
	hi, err := at(s.kind.MaximumBias)
	if err != nil {
		return 0, err
	}
	legal := quantity.Range{Unit: quantity.Ampere, Min: max(lo, minimumQuiescent), Max: hi}
	if err := legal.Check(amperes); err != nil {
		// The limits are solved for: four digits say all that they mean.
		rounded := quantity.Range{Unit: legal.Unit, Min: fourDigits(legal.Min), Max: fourDigits(legal.Max)}
		if shown := rounded.Check(amperes); shown != nil {
			err = shown
		}
		return 0, &Error{Key: "quiescent", Err: err}
	}
	return root(func(volts float64) (float64, error) {
		i, err := at(volts)
		return math.Log(max(i, math.SmallestNonzeroFloat64) / amperes), err
	}, 0, s.kind.MaximumBias)
}

// fourDigits rounds a value to four significant digits.
func fourDigits(v float64) float64 {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 4, 64), 64)
	if err != nil {
		panic("stage: " + err.Error()) // FormatFloat writes what ParseFloat reads
	}
	return rounded
}
