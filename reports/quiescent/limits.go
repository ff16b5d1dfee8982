package quiescent

import (
	"fmt"

	"quietcross/reports/audibility"
	"quietcross/stage"
	"quietcross/stage/device"
)

// What [DefaultLimits] holds.
const (
	DefaultColdest   = device.ZeroCelsius + 10
	DefaultHottest   = device.ZeroCelsius + 40
	DefaultDetection = audibility.DefaultLimit
	DefaultFeedback  = 0.5
)

// Limits are what a quiescent current has to meet. Zero is a value like any other:
// begin with [DefaultLimits].
type Limits struct {
	// Coldest and Hottest bound the air's temperature, K.
	Coldest float64 `json:"coldest_k"`
	Hottest float64 `json:"hottest_k"`
	// Junction is the maximum junction temperature, K.
	Junction float64 `json:"junction_k"`
	// Idle is the maximum power drawn at rest in the hottest air, that of the bias
	// parts as built included, W; nil stands for no limit.
	Idle *float64 `json:"idle_w"`
	// Detection is the probability of noticing, as of hearing.Detection, above which a
	// difference counts as predicted audible, above 0 and below 1.
	Detection float64 `json:"detection"`
	// Feedback is the maximum thermal loop gain, above 0 and below 1, at which
	// the bias would run away.
	Feedback float64 `json:"thermal_loop_gain"`
}

// DefaultLimits are air of 10 to 40 °C, or to the stage file's own where that lies
// beyond, the file's junction temperature, detection half of the time, half of the
// thermal loop gain that runs away, and no limit of idle power.
func DefaultLimits(spec stage.Spec) Limits {
	return Limits{
		Coldest: min(DefaultColdest, spec.Thermal.Ambient), Hottest: max(DefaultHottest, spec.Thermal.Ambient),
		Junction: spec.Thermal.MaximumJunction, Detection: DefaultDetection, Feedback: DefaultFeedback,
	}
}

// check returns the first limit that is not legal.
func (l Limits) check() error {
	switch {
	case !(l.Coldest >= device.ZeroCelsius-40 && l.Hottest <= device.ZeroCelsius+100 && l.Coldest <= l.Hottest):
		return fmt.Errorf("air from %.1f C to %.1f C: legal is -40 C to 100 C, the coldest first",
			l.Coldest-device.ZeroCelsius, l.Hottest-device.ZeroCelsius)
	case !(l.Junction > l.Hottest && l.Junction <= device.ZeroCelsius+250):
		return fmt.Errorf("maximum junction temperature %.1f C: legal is above the hottest air and up to 250 C", l.Junction-device.ZeroCelsius)
	case l.Idle != nil && !(*l.Idle >= 0):
		return fmt.Errorf("idle power %g W: legal is 0 or more", *l.Idle)
	case !(l.Detection > 0 && l.Detection < 1):
		return fmt.Errorf("probability of detection %g: legal is above 0 and below 1", l.Detection)
	case !(l.Feedback > 0 && l.Feedback < 1):
		return fmt.Errorf("thermal loop gain %g: legal is above 0 and below 1", l.Feedback)
	}
	return nil
}
