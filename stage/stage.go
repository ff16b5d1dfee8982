package stage

import (
	"errors"
	"fmt"

	"quietcross/stage/circuits"
	"quietcross/stage/network"
)

// Stage is a checked Spec, ready to be biased. It is safe for concurrent use.
type Stage struct {
	spec Spec
	kind *circuits.Kind
	warm circuits.Temperatures
	// equal is shared by all temperatures of a stage: it is of the cold one.
	equal *equality
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
	return &Stage{spec: spec, kind: kind, warm: circuits.Uniform(spec.Thermal.Ambient), equal: &equality{}}, nil
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

// Set biases the stage and finds its operating point and clipping onset, at the stage's
// temperatures. An operating point that does not exist, a bias outside the circuit's
// range or a quiescent current that is not reached is an error that says why.
func (s *Stage) Set(setting Setting) (*Biased, error) {
	m, err := s.make(setting)
	if err != nil {
		return nil, named(setting, err)
	}
	return s.bias(setting, m)
}

// named puts the setting before an error that is no refusal of a value.
func named(setting Setting, err error) error {
	if refused := (*Error)(nil); errors.As(err, &refused) {
		return err
	}
	return fmt.Errorf("%s: %w", setting, err)
}

// bias builds the stage with a bias and surveys it.
func (s *Stage) bias(setting Setting, m made) (*Biased, error) {
	b, err := s.restAt(setting, m)
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
func (s *Stage) restAt(setting Setting, m made) (*Biased, error) {
	return s.built(setting, m).at(s.warm)
}

// built is a stage with a bias whose network is solved at temperature after temperature:
// these are in the laws of its devices alone.
type built struct {
	Biased
	solver *network.Solver // with no signal
}

// built builds the stage with a bias.
func (s *Stage) built(setting Setting, m made) *built {
	b := &built{Biased: Biased{stage: s, setting: setting, made: m}}
	b.net, b.solver = s.build(&m)
	return b
}

// at solves the stage with no signal at other temperatures, as if it had been built at
// them: from where any solution begins. What was returned before no longer holds.
func (b *built) at(t circuits.Temperatures) (*Biased, error) {
	b.net.SetTemperatures(t)
	b.solver.Restart()
	on := b.Biased
	on.stage, on.solver = b.stage.At(t), b.solver
	if err := on.rest(); err != nil {
		return nil, fmt.Errorf("%s: %w", on.setting, err)
	}
	if on.net.Circuit.Dynamic() {
		on.solver = on.solver.Midband()
	}
	return &on, nil
}

// quiescent returns the mean current of the output devices at a solution.
func quiescent(net *circuits.Network, solver *network.Solver) float64 {
	sum, count := 0.0, 0
	for _, side := range net.Sides {
		for _, i := range side {
			sum += solver.Device(i).Current
			count++
		}
	}
	return sum / float64(count)
}
