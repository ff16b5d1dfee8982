package circuits

// Typical devices. A stage file need not give every value of a device's law: a table
// with the key kind takes all that it leaves out from the typical device of that kind,
// and so does a table that is left out as a whole, by the role of the device: output
// devices are power devices, all others small ones. A table without the key takes from
// the role's device only what no ideal stands for; the rest is ideal, such as an
// infinite Early voltage. Values are of the size that data sheets give for a plastic
// power transistor of some amperes and a small-signal one of some hundred milliamperes
// (common practice), and no real part's.

// The kinds of typical devices, as in a stage file.
const (
	PowerKind = "power"
	SmallKind = "small"
)

// KindKey is the key of a device's table that names its kind.
const KindKey = "kind"

// Typical is a typical device that a table of a stage file can be filled from.
type Typical struct {
	Kind string
	// Fill puts the device's values into all fields of the table's group.
	Fill func()
}

// typicals makes the choices of a table, the role's first.
func typicals[T any](to *T, role string, power, small T) []Typical {
	list := []Typical{
		{PowerKind, func() { *to = power }},
		{SmallKind, func() { *to = small }},
	}
	if role == SmallKind {
		list[0], list[1] = list[1], list[0]
	}
	return list
}

// powerTransistor and smallTransistor are the typical bipolar devices.
var (
	powerTransistor = Transistor{
		Saturation: 1e-12, Emission: 1, ForwardGain: 100, ReverseGain: 5, Leakage: 1e-11, LeakageEmission: 2,
		Early: 100, Knee: 8, BaseOhms: 2, EmitterOhms: 0.02, CollectorOhms: 0.1,
		Exponent: 3, Gap: 1.11, GainExponent: 1.5,
	}
	smallTransistor = Transistor{
		Saturation: 2e-14, Emission: 1, ForwardGain: 180, ReverseGain: 5, Leakage: 1e-13, LeakageEmission: 2,
		Early: 100, Knee: 0.5, BaseOhms: 10, EmitterOhms: 0.1, CollectorOhms: 1,
		Exponent: 3, Gap: 1.11, GainExponent: 1.5,
	}
)

// powerDiode and smallDiode are the typical junction diodes.
var (
	powerDiode = Diode{Saturation: 1e-12, Emission: 1, Ohms: 0.05, Exponent: 3, Gap: 1.11}
	smallDiode = Diode{Saturation: 1e-13, Emission: 1, Ohms: 0.5, Exponent: 3, Gap: 1.11}
)

// powerField and smallField are the typical field-effect devices.
var (
	powerField = FieldEffect{
		Threshold: 3, Beta: 4, Slope: 1.6, Modulation: 0.005, SourceOhms: 0.05, DrainOhms: 0.1,
		ThresholdSlope: 4e-3, GainExponent: 1.5,
	}
	smallField = FieldEffect{
		Threshold: 2, Beta: 0.1, Slope: 1.6, Modulation: 0.01, SourceOhms: 1, DrainOhms: 2,
		ThresholdSlope: 2e-3, GainExponent: 1.5,
	}
)
