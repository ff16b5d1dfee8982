package stage

import (
	"fmt"

	"quietcross/stage/quantity"
)

// Setting is a way to bias a stage. The zero Setting is the stage as built.
type Setting struct {
	mode  settingMode
	value float64
}

type settingMode uint8

const (
	asBuilt settingMode = iota
	forcedBias
	forcedQuiescent
)

// AsBuilt biases the stage by its own bias parts.
func AsBuilt() Setting { return Setting{} }

// Bias replaces the bias parts by an ideal source of this many volts at the bias
// point: between the bases of a complementary stage. Legal are 0 to the circuit's
// maximum bias; Set refuses others.
func Bias(volts float64) Setting { return Setting{forcedBias, volts} }

// Quiescent replaces the bias parts by the ideal source that gives this
// quiescent current, in amperes: the mean collector current of the output
// devices with no signal. Set refuses a current that no bias reaches, with the
// range that can be reached.
func Quiescent(amperes float64) Setting { return Setting{forcedQuiescent, amperes} }

// String names the setting: "as built", "bias 1.2V" or "quiescent 10mA".
func (s Setting) String() string {
	switch s.mode {
	case forcedBias:
		return "bias " + quantity.Format(s.value, quantity.Volt)
	case forcedQuiescent:
		return "quiescent " + quantity.Format(s.value, quantity.Ampere)
	}
	return "as built"
}

// Mode names what the setting fixes: "as-built", "bias" or "quiescent".
func (s Setting) Mode() string {
	return [...]string{asBuilt: "as-built", forcedBias: "bias", forcedQuiescent: "quiescent"}[s.mode]
}

// Value returns what the setting fixes it to: volts of bias, amperes of
// quiescent current, 0 as built.
func (s Setting) Value() float64 { return s.value }

// Forced reports whether an ideal source replaces the bias parts.
func (s Setting) Forced() bool { return s.mode != asBuilt }

// ladder is the default quiescent currents in units of the circuit's reference.
var ladder = []float64{0.001, 0.01, 0.1, 0.3, 1, 3}

// DefaultLadder returns settings from unbiased (bias 0 V) through the circuit's
// reference quiescent current, [Stage.OptimumQuiescent], to three times that:
// at least six rungs that the stage can reach.
func (s *Stage) DefaultLadder() ([]Setting, error) {
	rungs := []Setting{Bias(0)}
	reference := s.OptimumQuiescent()
	if reference == 0 {
		reference = s.fallbackReference()
	}
	for _, ratio := range ladder {
		rungs = append(rungs, Quiescent(ratio*reference))
	}
	lo, hi, err := s.QuiescentRange()
	if err != nil {
		return nil, err
	}
	for i, rung := range rungs[1:] {
		if rung.value < lo || rung.value > hi {
			return nil, fmt.Errorf("rung %d of the ladder, %v, is outside what the stage reaches, %s to %s",
				i+1, rung, quantity.Format(lo, quantity.Ampere), quantity.Format(hi, quantity.Ampere))
		}
	}
	return rungs, nil
}
