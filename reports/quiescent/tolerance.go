package quiescent

import (
	"fmt"
	"math"
	"math/rand/v2"

	"quietcross/stage"
)

// Tolerances are how built units spread. They are independent of each other.
type Tolerances struct {
	// Lot is the standard deviation, from unit to unit, of the natural logarithm
	// of the saturation current of both output devices together, and Mismatch that
	// between the two, each device by itself; 0 to 2.
	Lot      float64 `json:"lot"`
	Mismatch float64 `json:"mismatch"`
	// Threshold is the standard deviation of a field-effect device's threshold, V,
	// of both together, 0 to 2; between the two it is a fifth of that.
	Threshold float64 `json:"threshold_v"`
	// Gain is the standard deviation of the logarithm of each current gain.
	Gain float64 `json:"gain"`
	// Resistor is the tolerance of each emitter resistor, a ratio of 0 to 0.5:
	// values are spread evenly within it.
	Resistor float64 `json:"resistor"`
}

// UsualTolerances are those of ordinary parts: 20 mV or so of base-emitter
// voltage between lots, 2 mV within a pair, gains within a factor of two for most,
// 5 % resistors, thresholds of field-effect devices within some tenths of a volt.
// They are common practice, not taken from a data sheet.
func UsualTolerances() Tolerances {
	return Tolerances{Lot: 0.4, Mismatch: 0.08, Threshold: 0.2, Gain: 0.3, Resistor: 0.05}
}

func (t Tolerances) check() error {
	for _, f := range []struct {
		name       string
		value, top float64
	}{{"lot", t.Lot, 2}, {"mismatch", t.Mismatch, 2}, {"threshold", t.Threshold, 2}, {"gain", t.Gain, 2}, {"resistor", t.Resistor, 0.5}} {
		if !(f.value >= 0 && f.value <= f.top) {
			return fmt.Errorf("quiescent: tolerance %s %g: legal are 0 to %g", f.name, f.value, f.top)
		}
	}
	return nil
}

// A unit is one built stage: its parts, and the air it works in.
type unit struct {
	spec         stage.Spec
	upper, lower float64 // emitter resistors, ohms
	ambient      float64 // K
}

// draw builds one unit. Each has a generator of its own, so that units do not
// depend on each other's order.
func draw(spec stage.Spec, t Tolerances, l Limits, seed, number uint64) unit {
	rng := rand.New(rand.NewPCG(seed, number))
	lot := t.Lot * rng.NormFloat64()
	up, down := lot+t.Mismatch*rng.NormFloat64(), lot+t.Mismatch*rng.NormFloat64()
	gainUp, gainDown := t.Gain*rng.NormFloat64(), t.Gain*rng.NormFloat64()
	ohmsUp := spec.Emitter.Ohms * (1 + t.Resistor*(2*rng.Float64()-1))
	ohmsDown := spec.Emitter.Ohms * (1 + t.Resistor*(2*rng.Float64()-1))
	u := unit{spec: spec, upper: ohmsUp, lower: ohmsDown, ambient: l.Coldest + (l.Hottest-l.Coldest)*rng.Float64()}
	s := &u.spec
	s.Upper.Saturation *= math.Exp(up)
	s.Lower.Saturation *= math.Exp(down)
	s.Upper.ForwardGain *= math.Exp(gainUp)
	s.Lower.ForwardGain *= math.Exp(gainDown)
	shift := t.Threshold * rng.NormFloat64()
	s.UpperFET.Threshold += shift + t.Threshold/5*rng.NormFloat64()
	s.LowerFET.Threshold += shift + t.Threshold/5*rng.NormFloat64()
	u.place()
	return u
}

// minimumInside is the minimum resistance that a device may have inside, and
// minimumOutside the minimum emitter resistor, ohms.
const (
	minimumInside  = 1e-4
	minimumOutside = 1e-3
)

// place puts the two emitter resistors into the spec, which has one value for
// both: what they have in common there, the rest inside the devices. Resistors
// too small for that stay nominal.
func (u *unit) place() {
	s := &u.spec
	common := min(u.upper, u.lower) - 2*minimumInside
	if common < minimumOutside {
		u.upper, u.lower = s.Emitter.Ohms, s.Emitter.Ohms
		return
	}
	s.Emitter.Ohms = common
	s.Upper.EmitterOhms += u.upper - common
	s.Lower.EmitterOhms += u.lower - common
	s.UpperFET.SourceOhms += u.upper - common
	s.LowerFET.SourceOhms += u.lower - common
}
