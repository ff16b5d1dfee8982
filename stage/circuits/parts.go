package circuits

import (
	"quietcross/stage/device"
	"quietcross/stage/network"
	"quietcross/stage/quantity"
)

// Parts are the part values of a stage, in SI base units. A circuit kind uses
// some of its groups; the others keep their defaults.
type Parts struct {
	Supply  Supply
	Source  SignalSource
	Driver  Driver
	Load    Load
	Emitter Emitter
	Bias    Bias
	Tap     TapBias
	Diode   Diode
	Upper   Transistor
	Lower   Transistor
	Drivers Drivers
	// Multiplier is the VBE multiplier between the bases.
	Multiplier         Multiplier
	UpperFET, LowerFET FieldEffect
	Input, Output      Transformer
	Feedback           Feedback
	Coupling           Coupling
	Thermal            Thermal
	// What a stage may be given beyond its ideal form; see limits.go.
	BiasPart      BiasPart
	Speed         Speed
	PowerSupply   PowerSupply
	OutputNetwork OutputNetwork
	Stoppers      Stoppers
	Parallel      Parallel
	SafeArea      SafeArea
}

// Defaults returns parts with every optional value at its default.
func Defaults() Parts {
	junction := Transistor{Emission: 1, LeakageEmission: 2, Exponent: 3, Gap: 1.11}
	field := FieldEffect{Slope: 1.5, ThresholdSlope: 2e-3, GainExponent: 1.5}
	return Parts{
		Driver:      Driver{Device: junction},
		Drivers:     Drivers{Upper: junction, Lower: junction},
		Multiplier:  Multiplier{Device: junction},
		UpperFET:    field,
		LowerFET:    field,
		Load:        Load{Qms: 4, Qes: 1},
		Feedback:    Feedback{Bandwidth: 1e6, Closed: 20, Swing: 40},
		Diode:       Diode{Emission: 1, Exponent: 3, Gap: 1.11},
		Upper:       junction,
		Lower:       junction,
		Thermal:     Thermal{Ambient: room, MaximumJunction: device.ZeroCelsius + 150, SinkStore: 100, JunctionStore: 0.5},
		BiasPart:    BiasPart{ToSink: 5},
		PowerSupply: PowerSupply{Mains: 50, Conduction: 0.25},
		Parallel:    Parallel{Devices: 1},
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

// Load is what the stage drives: a resistor, or a loudspeaker where Resonance is
// not zero.
type Load struct {
	Ohms      float64 // resistance; a loudspeaker's voice coil, Re
	Henries   float64 // voice-coil inductance, Le; 0: none
	Resonance float64 // fs, Hz; 0: a resistor
	Qms, Qes  float64 // at fs
	Force     float64 // force factor Bl, N/A; 0: unknown
}

// Speaker returns the loudspeaker's law, and whether the load is one.
func (l *Load) Speaker() (network.SpeakerLaw, bool) {
	return network.SpeakerLaw{
		Ohms: l.Ohms, Henries: l.Henries, Resonance: l.Resonance, Qms: l.Qms, Qes: l.Qes,
	}, l.Resonance > 0
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
	// A trimmer, ohms; 0: none. In series with the diodes it is a pair of equal
	// resistances, half of it on each side of the tap; across, it is one from base to base.
	Series, Across float64
}

// TapBias is a bias made by a divider from the supply at the bias tap.
type TapBias struct {
	Upper  float64 // ohms, supply to tap
	Lower  float64 // ohms, tap to ground; 0: none
	Diodes int     // in series from tap to ground; 0: none
	Bypass float64 // farads, tap to ground; 0: none
}

// Feedback is an amplifier before the stage with a loop around both.
type Feedback struct {
	Gain      float64 // open-loop gain at direct current; 0: no amplifier
	Bandwidth float64 // its gain-bandwidth product, Hz
	Closed    float64 // closed-loop gain
	Swing     float64 // maximum output of the amplifier on either side, V
}

// Driver is the class A small-signal stage before the output stage: one transistor
// in common emitter. It is no part of a compound output device; those are Drivers.
type Driver struct {
	Fitted       bool
	DividerUpper float64 // ohms, upper supply to base
	DividerLower float64 // ohms, base to lower supply
	Emitter      float64 // ohms, to the lower supply, under the degeneration
	Degeneration float64 // ohms, from the emitter to that resistor, never bypassed; 0: none
	Bypass       float64 // farads, across the emitter resistor; 0: none
	Input        float64 // farads, source to base
	Collector    float64 // ohms, upper supply to collector; unused before a transformer
	Output       float64 // farads, collector to a stage without an input capacitor
	Damping      float64 // ohms, across the input transformer's primary
	Device       Transistor
}

// Drivers are the first devices of a compound output device.
type Drivers struct {
	Upper, Lower Transistor
	Ohms         float64 // base to emitter of each output device
}

// Multiplier is a transistor that holds a multiple of its base-emitter voltage.
type Multiplier struct {
	Top    float64 // ohms, collector to base
	Bottom float64 // ohms, base to emitter
	Device Transistor
}

// Transformer couples the input or the output of a stage.
type Transformer struct {
	Ratio         float64 // turns of one primary half or of the primary, to the other winding
	PrimaryOhms   float64 // of the primary, or of each half of it
	SecondaryOhms float64 // of the secondary, or of each half of it
	Magnetising   float64 // H, of the primary, or of one half of it
	Leakage       float64 // H, of the primary, or of each half of it; 0: none
	Saturation    float64 // flux linkage there at which the magnetising current has doubled, Wb; 0: none
}

// Coupling is the capacitors in the signal's way.
type Coupling struct {
	Input  float64 // farads
	Output float64 // farads
}

// FieldEffect is the law of one field-effect output device.
type FieldEffect struct {
	Threshold      float64 // V
	Beta           float64 // A/V^2
	Slope          float64 // subthreshold slope factor n
	Modulation     float64 // channel-length modulation, 1/V; 0: none
	SourceOhms     float64
	DrainOhms      float64
	ThresholdSlope float64 // V/K, the threshold's fall
	GainExponent   float64 // temperature exponent of beta's fall
	Rise           float64 // K
}

func (f *FieldEffect) law() device.FieldEffect {
	return device.FieldEffect{
		Threshold: f.Threshold, Beta: f.Beta, Slope: f.Slope, Modulation: f.Modulation,
		ThresholdSlope: f.ThresholdSlope, GainExponent: f.GainExponent, Reference: room,
	}
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
	TransitTime                       float64 // s
	BaseEmitterFarads                 float64
	BaseCollectorFarads               float64
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
	Ambient         float64 // K
	JunctionToCase  float64 // K/W, each device
	CaseToSink      float64 // K/W, each device
	SinkToAir       float64 // K/W, the sink that the devices share
	SinkStore       float64 // J/K
	JunctionStore   float64 // J/K, each device, die and case
	Coupling        float64 // how much of the sink's rise the bias part follows, 0 to 1
	MaximumJunction float64 // K
}

// Group is one table of a stage file.
type Group struct {
	Name, Doc string
	Fields    []Field
	// Typical are the devices that values left out of a file are taken from, that of the
	// table's role first; none for a table that holds no device's law.
	Typical []Typical
	// Fitted tells of an optional table whether the stage has what it describes; nil
	// for a table that every stage file of the kind has. Reading one of the tables
	// that share a Fitted sets it, and then all of them must be there.
	Fitted *bool
}

// Absent reports whether the table is optional and left out.
func (g Group) Absent() bool { return g.Fitted != nil && !*g.Fitted }

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
