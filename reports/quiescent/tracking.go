package quiescent

import (
	"quietcross/stage"
	"quietcross/stage/circuits"
)

// A bias is a bias source that was set to a quiescent current with all junctions
// at one temperature, and whose voltage then follows the temperature of its own
// part as the output devices' junctions would: that of diodes, or of a multiplier
// of their kind.
type bias struct {
	stage *stage.Stage
	volts float64 // at the temperature it was set at
	set   float64 // that temperature, K
	slope float64 // V/K
}

// slopeSpan is the temperature rise over which the slope is taken, K.
const slopeSpan = 30

// newBias returns the bias that gives a quiescent current with all junctions at
// kelvin; 0 A stands for no bias at all.
func newBias(st *stage.Stage, amperes, kelvin float64) (bias, error) {
	b := bias{stage: st, set: kelvin}
	if amperes == 0 {
		return b, nil
	}
	cold, err := heldAt(st, amperes, kelvin)
	if err != nil {
		return b, err
	}
	b.volts = cold
	b.slope, err = followingSlope(st, amperes, kelvin, b.volts)
	return b, err
}

// followingSlope returns how the bias for a current changes with the temperature
// of all junctions, V/K.
func followingSlope(st *stage.Stage, amperes, kelvin, volts float64) (float64, error) {
	warm, err := heldAt(st, amperes, kelvin+slopeSpan)
	if err != nil {
		return 0, err
	}
	return (warm - volts) / slopeSpan, nil
}

// heldAt returns the bias that gives a quiescent current in air of a temperature, with
// every junction at it, V.
func heldAt(st *stage.Stage, amperes, kelvin float64) (float64, error) {
	spec := st.Spec()
	spec.Thermal.Ambient = kelvin
	there, err := stage.New(spec)
	if err != nil {
		return 0, err
	}
	b, err := there.Set(stage.Held(amperes))
	if err != nil {
		return 0, err
	}
	return b.Point().Bias, nil
}

// at returns the stage biased by this source at the temperatures given.
func (b *bias) at(t circuits.Temperatures) (*stage.Biased, error) {
	volts := max(0, b.volts+b.slope*(t.Bias-b.set))
	return b.stage.At(t).Set(stage.Bias(volts))
}
