package device

import (
	"math"

	"quietcross/dsp/elementary"
)

// Bipolar is the charge-control law of a bipolar transistor (H. K. Gummel and
// H. C. Poon, Bell System Technical Journal 49:827, 1970) in its direct-current
// form. Zero in a value marked "0: none" leaves its effect out.
type Bipolar struct {
	Saturation      float64 // IS, transport saturation current at Reference, A, > 0
	Emission        float64 // n, emission coefficient of both junctions
	ForwardGain     float64 // ideal forward current gain at Reference; 0: infinite
	ReverseGain     float64 // ideal reverse current gain; 0: infinite
	Leakage         float64 // saturation current of the base-emitter leakage, A; 0: none
	LeakageEmission float64 // its emission coefficient, about 1.5 to 2
	Early           float64 // forward Early voltage, V; 0: none
	Knee            float64 // collector current where high-level injection sets in, A; 0: none
	BaseOhms        float64 // base resistance; the network places it
	EmitterOhms     float64 // emitter resistance; the network places it
	CollectorOhms   float64 // collector resistance; the network places it
	Exponent        float64 // X, temperature exponent of IS
	Gap             float64 // EG, energy gap, V
	GainExponent    float64 // temperature exponent of both gains; 0: constant
	Reference       float64 // temperature at which the values hold, K
}

// junction returns the base-emitter transport law alone.
func (b Bipolar) junction() Junction {
	return Junction{
		Saturation: b.Saturation, Emission: b.Emission,
		Exponent: b.Exponent, Gap: b.Gap, Reference: b.Reference,
	}
}

// At takes the law to an absolute temperature in kelvins.
func (b Bipolar) At(kelvin float64) Transistor {
	gain := elementary.Pow(kelvin/b.Reference, b.GainExponent)
	t := Transistor{
		Diode:          b.junction().At(kelvin),
		inverseForward: inverse(b.ForwardGain * gain),
		inverseReverse: inverse(b.ReverseGain * gain),
		inverseEarly:   inverse(b.Early),
		inverseKnee:    inverse(b.Knee),
	}
	if b.Leakage > 0 {
		leak := b.junction()
		leak.Saturation, leak.Emission = b.Leakage, b.LeakageEmission
		t.leakage = leak.At(kelvin)
		t.leaks = true
	}
	return t
}

// inverse returns 1/x, and zero for zero: an absent effect.
func inverse(x float64) float64 {
	if x == 0 {
		return 0
	}
	return 1 / x
}

// Transistor is a Bipolar at one temperature, without its resistances. The
// embedded Diode is the transport law of each of its junctions.
type Transistor struct {
	Diode
	inverseForward, inverseReverse float64
	inverseEarly, inverseKnee      float64
	leakage                        Diode
	leaks                          bool
}

// Terminal holds a transistor's collector and base currents (A, into the
// terminal) and their derivatives (S) by the base-emitter and base-collector
// voltages.
type Terminal struct {
	IC, IB           float64
	ICByVBE, ICByVBC float64
	IBByVBE, IBByVBC float64
	// Forward is the part of the transport current that the base-emitter junction
	// sends, IF/qb: the charge that its carriers hold is the transit time times it.
	Forward, ForwardByVBE, ForwardByVBC float64
}

// Currents evaluates the law at the junction voltages:
//
//	IF = IS (exp(VBE/nVT) - 1), IR = IS (exp(VBC/nVT) - 1)
//	qb = (1 + sqrt(1 + 4 (IF + IS)/IK)) / (2 (1 - VBC/VA))
//	IC = (IF - IR)/qb - IR/betaR
//	IB = IF/betaF + leakage(VBE) + IR/betaR
//
// The Early factor 1 - VBC/VA is floored smoothly where it would reach zero.
func (t *Transistor) Currents(vbe, vbc float64) Terminal {
	forward, gf := t.Current(vbe)
	reverse, gr := t.Current(vbc)
	early, earlySlope := softFloor(1 - vbc*t.inverseEarly)
	root := math.Sqrt(1 + 4*(forward+t.Saturation)*t.inverseKnee)
	perCharge := 2 * early / (1 + root) // 1/qb
	byVBE := gf * t.inverseKnee / (root * early)
	byVBC := earlySlope * t.inverseEarly / early
	transport := (forward - reverse) * perCharge

	var out Terminal
	out.Forward = forward * perCharge
	out.ForwardByVBE = (gf - out.Forward*byVBE) * perCharge
	out.ForwardByVBC = -out.Forward * byVBC
	out.IC = transport - reverse*t.inverseReverse
	out.ICByVBE = (gf - transport*byVBE) * perCharge
	out.ICByVBC = -gr*perCharge - transport*byVBC - gr*t.inverseReverse
	out.IB = forward*t.inverseForward + reverse*t.inverseReverse
	out.IBByVBE = gf * t.inverseForward
	out.IBByVBC = gr * t.inverseReverse
	if t.leaks {
		i, g := t.leakage.Current(vbe)
		out.IB += i
		out.IBByVBE += g
	}
	return out
}

// floorAt is where softFloor leaves the straight line.
const floorAt = 0.1

// softFloor returns u where u >= floorAt and below it an exponential tail that
// never reaches zero, with its slope; value and slope are continuous.
func softFloor(u float64) (value, slope float64) {
	if u >= floorAt {
		return u, 1
	}
	slope = elementary.Exp(max(u/floorAt-1, -300))
	return floorAt * slope, slope
}
