package stage

import (
	"errors"
	"fmt"

	"quietcross/stage/circuits"
	"quietcross/stage/quantity"
)

// A Setting is a way to bias a stage: by its own parts as they are, by its own parts
// with the one that a builder turns trimmed to a quiescent current, or by an ideal
// source that holds. The zero Setting is the stage as built. Settings are comparable.
//
// A setting is made on the bench, with no signal and every junction at the ambient
// temperature, whatever temperatures the stage is then solved at by [Stage.At] or
// [Stage.Settle]: what was set cold stays as it is while the junctions warm up. A
// setting that is made [Setting.Warm] has its current when the stage has settled in
// that air.
type Setting struct {
	mode  settingMode
	value float64
	warm  bool
}

type settingMode uint8

const (
	asBuilt settingMode = iota
	forcedBias
	trimmedQuiescent
	heldQuiescent
)

// modes name what a setting fixes, in files and results.
var modes = [...]string{asBuilt: "as-built", forcedBias: "bias", trimmedQuiescent: "quiescent", heldQuiescent: "held"}

// warmly ends the name of a mode whose current is that of the warm stage.
const warmly = "-warm"

// AsBuilt biases the stage by its own bias parts as they are.
func AsBuilt() Setting { return Setting{} }

// Bias puts an ideal source of this many volts in place of the bias parts, at the bias
// point: between the bases of a complementary stage. It holds whatever the stage draws
// and however warm it is. Legal are 0 to the circuit's maximum bias; Set refuses
// others.
func Bias(volts float64) Setting { return Setting{mode: forcedBias, value: volts} }

// Quiescent biases the stage by its own parts, the one that a builder turns trimmed to
// this quiescent current, in amperes: the mean collector current of the output devices
// with no signal. Bias parts starve, yield and follow temperature as they do. Set
// refuses a current that the part does not reach, with the range that it does. In a
// stage that has no bias parts it is an ideal source, as with [Held]; Biased.Source
// tells.
func Quiescent(amperes float64) Setting { return Setting{mode: trimmedQuiescent, value: amperes} }

// Held puts the ideal source in place of the bias parts that gives this quiescent
// current, in amperes, and holds. Set refuses a current that no legal bias reaches,
// with the range.
func Held(amperes float64) Setting { return Setting{mode: heldQuiescent, value: amperes} }

// Warm returns the setting by which the current is reached when the stage has warmed up
// at rest. As built and with a bias in volts it changes nothing.
func (s Setting) Warm() Setting {
	s.warm = s.mode == trimmedQuiescent || s.mode == heldQuiescent
	return s
}

// IsWarm reports whether the current is that of the stage warmed up at rest.
func (s Setting) IsWarm() bool { return s.warm }

// String names the setting: "as built", "bias 1.2V", "quiescent 10mA, set cold",
// "quiescent 10mA, held, set warm".
func (s Setting) String() string {
	text := "as built"
	switch s.mode {
	case forcedBias:
		return "bias " + quantity.Format(s.value, quantity.Volt)
	case trimmedQuiescent:
		text = "quiescent " + quantity.Format(s.value, quantity.Ampere) + ", set cold"
	case heldQuiescent:
		text = "quiescent " + quantity.Format(s.value, quantity.Ampere) + ", held, set cold"
	}
	if s.warm {
		text = text[:len(text)-len("cold")] + "warm"
	}
	return text
}

// Mode names what the setting fixes: "as-built", "bias", "quiescent" or "held", and
// the last two with "-warm" where the current is that of the warm stage.
func (s Setting) Mode() string {
	if s.warm {
		return modes[s.mode] + warmly
	}
	return modes[s.mode]
}

// Value returns what the setting fixes it to: volts of bias, amperes of
// quiescent current, 0 as built.
func (s Setting) Value() float64 { return s.value }

// SettingOf returns the setting that a mode and a value name, as Mode and Value give
// them.
func SettingOf(mode string, value float64) (Setting, error) {
	for m, name := range modes {
		switch mode {
		case name:
			s := Setting{mode: settingMode(m), value: value}
			if s.mode == asBuilt {
				s.value = 0
			}
			return s, nil
		case name + warmly:
			if s := (Setting{mode: settingMode(m), value: value}).Warm(); s.warm {
				return s, nil
			}
		}
	}
	return Setting{}, fmt.Errorf("%q is no way to set a bias; there are: %v", mode, modes)
}

// Source is what biases a stage.
type Source string

// The sources of a bias.
const (
	OwnParts     Source = "own parts as built"
	TrimmedParts Source = "own parts, trimmed"
	IdealSource  Source = "ideal source held"
)

// BiasSource returns what biases a stage of this spec at a setting. A spec without bias
// parts is biased by an ideal source where a quiescent current is asked for.
func (s Spec) BiasSource(setting Setting) Source {
	switch setting.mode {
	case asBuilt:
		return OwnParts
	case trimmedQuiescent:
		if kind, err := circuits.Lookup(s.Circuit); err == nil && kind.Trim(&s.Parts) != nil {
			return TrimmedParts
		}
	}
	return IdealSource
}

// ladder is the default quiescent currents in units of the circuit's reference.
var ladder = []float64{0.001, 0.01, 0.1, 0.3, 1, 3}

// leastRungs is how few rungs a default ladder may have.
const leastRungs = 6

// DefaultLadder returns settings from unbiased (bias 0 V) through the circuit's
// reference quiescent current, [Stage.OptimumQuiescent], to three times that, all of
// them within the reach of the stage's trimmed part. The last of them stands at the end
// of that reach where it ends sooner, and lesser ones that it does not reach are left
// out; fewer than six rungs are an error.
func (s *Stage) DefaultLadder() ([]Setting, error) {
	rungs := []Setting{Bias(0)}
	reference := s.reference()
	lo, hi, err := s.QuiescentRange()
	if err != nil {
		return nil, err
	}
	for _, ratio := range ladder {
		if i := ratio * reference; i >= lo && i <= hi {
			rungs = append(rungs, Quiescent(i))
		}
	}
	if last := rungs[len(rungs)-1].value; hi < ladder[len(ladder)-1]*reference && hi > 1.5*max(last, lo) {
		rungs = append(rungs, Quiescent(0.99*hi))
	}
	if len(rungs) < leastRungs {
		return nil, fmt.Errorf("%w: from %s to %s, of a ladder about %s", errShortLadder,
			quantity.Format(fourDigits(lo), quantity.Ampere), quantity.Format(fourDigits(hi), quantity.Ampere), quantity.Format(fourDigits(reference), quantity.Ampere))
	}
	return rungs, nil
}

var errShortLadder = errors.New("the bias part reaches too few quiescent currents")

// reference is the quiescent current about which a ladder stands, A: the optimum or,
// where theory holds none best, a twentieth of the current at full swing.
func (s *Stage) reference() float64 {
	if optimum := s.OptimumQuiescent(); optimum > 0 {
		return optimum
	}
	return s.kind.PeakCurrent(&s.spec.Parts) / 20
}
