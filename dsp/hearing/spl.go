package hearing

import (
	"fmt"
	"math"

	"quietcross/dsp/level"
)

// SPL returns the sound pressure level at a listener on the axis of one
// loudspeaker in a free field:
//
//	sensitivity + 10 log10(volts²/(load·1 W)) - 20 log10(distance/1 m)
//
// volts is the RMS voltage at the terminals (for [Config.PlaybackSPL], that of a
// full-scale sine; 0 or more), load the nominal impedance in ohms (above 0),
// sensitivity the level in dB SPL at 1 W and 1 m, and distance in metres (above
// 0). A sensitivity that a maker states for 2.83 V is the same figure at 8 ohm
// only. A room adds reflections, commonly 3 to 6 dB at usual distances, and a
// second loudspeaker up to 3 dB for unlike signals (common practice); neither is
// included.
func SPL(volts, load float64, sensitivity level.DB, distance float64) (level.DB, error) {
	switch {
	case !(volts >= 0) || math.IsInf(volts, 0):
		return 0, fmt.Errorf("hearing: output of %g V RMS: must be 0 or more", volts)
	case !(load > 0):
		return 0, fmt.Errorf("hearing: load of %g ohm: must be above 0", load)
	case !(distance > 0):
		return 0, fmt.Errorf("hearing: distance of %g m: must be above 0", distance)
	}
	return sensitivity + level.FromPower(volts*volts/load) - level.FromAmplitude(distance), nil
}
