package hearing

import (
	"fmt"
	"math"

	"quietcross/dsp/level"
)

// How loudly something is played: the level of a full-scale sine at the listener,
// its legal range, which both ear models share, and its computation from volts,
// load, sensitivity and distance.

// DefaultSPL is the level of a full-scale sine where none is known, ITU-R BS.1387,
// 2.1.3.
const DefaultSPL level.DB = 92

// Playback levels that the ear models accept. Above 110 dB the level-dependent
// slopes lose their meaning, and listening is dangerous.
const (
	MinimumSPL level.DB = 20
	MaximumSPL level.DB = 110
)

// CheckSPL returns an error unless spl, the level of a full-scale sine in
// dB SPL, lies within [MinimumSPL] and [MaximumSPL].
func CheckSPL(spl level.DB) error {
	if spl >= MinimumSPL && spl <= MaximumSPL {
		return nil
	}
	return fmt.Errorf("playback level of %g dB SPL: legal are %g to %g",
		float64(spl), float64(MinimumSPL), float64(MaximumSPL))
}

// SPL returns the sound pressure level at a listener on the axis of one
// loudspeaker in a free field:
//
//	sensitivity + 10 log10(volts²/(load·1 W)) - 20 log10(distance/1 m)
//
// volts is the RMS voltage at the terminals (for [Config], that of a
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
