package circuits

import (
	"quietcross/stage/device"
	"quietcross/stage/quantity"
)

// Parts are the part values of a stage, in SI base units. A circuit kind uses
// some of its groups; the others keep their defaults.
type Parts struct {
	Supply  Supply
	Source  SignalSource
	Load    Load
	Emitter Emitter
	Bias    Bias
	Diode   Diode
	Upper   Transistor
	Lower   Transistor
	Thermal Thermal
}

// Defaults returns parts with every optional value at its default.
func Defaults() Parts {
	junction := Transistor{Emission: 1, LeakageEmission: 2, Exponent: 3, Gap: 1.11}
	return Parts{
		Diode:   Diode{Emission: 1, Exponent: 3, Gap: 1.11},
		Upper:   junction,
		Lower:   junction,
		Thermal: Thermal{Ambient: room, GreatestJunction: device.ZeroCelsius + 150, SinkStore: 100},
	}
}

// Supply is the rails.
type Supply struct {
	Positive float64 // upper rail above ground, V
	Negative float64 // lower rail under ground, V, as a positive number
}

// SignalSource drives the stage's input.
type SignalSource struct {
	Ohms float64 // its resistance
}

// Load is what the stage drives.
type Load struct {
	Ohms float64
}

// Emitter is the resistors between the output devices and the output.
type Emitter struct {
	Ohms float64 // each
}

// Bias is the bias network as built.
type Bias struct {
	FeedUpper float64 // ohms from the upper rail to the upper base
	FeedLower float64 // ohms from the lower rail to the lower base
	Diodes    int     // in series between the bases
}

// Diode is the law of one bias diode.
type Diode struct {
	Saturation, Emission, Ohms float64
	Exponent, Gap              float64
}

func (d *Diode) law() device.Junction {
	return device.Junction{
		Saturation: d.Saturation, Emission: d.Emission, Series: d.Ohms,
		Exponent: d.Exponent, Gap: d.Gap, Reference: room,
	}
}

// Transistor is the law of one output device.
type Transistor struct {
	Saturation, Emission              float64
	ForwardGain, ReverseGain          float64
	Leakage, LeakageEmission          float64
	Early, Knee                       float64
	BaseOhms, EmitterOhms             float64
	CollectorOhms                     float64
	Exponent, Gap, GainExponent, Rise float64
}

func (t *Transistor) law() device.Bipolar {
	return device.Bipolar{
		Saturation: t.Saturation, Emission: t.Emission,
		ForwardGain: t.ForwardGain, ReverseGain: t.ReverseGain,
		Leakage: t.Leakage, LeakageEmission: t.LeakageEmission,
		Early: t.Early, Knee: t.Knee,
		BaseOhms: t.BaseOhms, EmitterOhms: t.EmitterOhms, CollectorOhms: t.CollectorOhms,
		Exponent: t.Exponent, Gap: t.Gap, GainExponent: t.GainExponent, Reference: room,
	}
}

// Thermal is the way of the heat out of each output device.
type Thermal struct {
	Ambient          float64 // K
	JunctionToCase   float64 // K/W, each device
	CaseToSink       float64 // K/W, each device
	SinkToAir        float64 // K/W, the sink that the devices share
	SinkStore        float64 // J/K
	Coupling         float64 // how much of the sink's rise the bias part follows, 0 to 1
	GreatestJunction float64 // K
}

// Group is one table of a stage file.
type Group struct {
	Name, Doc string
	Fields    []Field
}

// Field is one value of a stage file: where it lives and what is legal.
type Field struct {
	Key, Doc string
	Value    any // *float64 or *int
	Range    quantity.Range
	Optional bool // left out of a file, it keeps its default
}

func real64(key string, v *float64, unit quantity.Unit, lo, hi float64, doc string) Field {
	return Field{Key: key, Doc: doc, Value: v, Range: quantity.Range{Unit: unit, Min: lo, Max: hi}}
}

func (f Field) optional() Field {
	f.Optional = true
	return f
}

// orZero lets the value be zero beside its range, with that meaning; such a
// value is optional.
func (f Field) orZero(meaning string) Field {
	f.Range.Zero = meaning
	return f.optional()
}
