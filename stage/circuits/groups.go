package circuits

import (
	"quietcross/stage/device"
	"quietcross/stage/quantity"
)

// Groups that the kinds share. Ranges bound what the laws were written for, and
// are wide enough for a small transistor and a large power device.

func dualSupply(s *Supply) Group {
	return Group{Name: "supply", Doc: "the two rails", Fields: []Field{
		real64("positive", &s.Positive, quantity.Volt, 0.5, 200, "upper rail above ground"),
		real64("negative", &s.Negative, quantity.Volt, 0.5, 200, "lower rail under ground, written as a positive number"),
	}}
}

func signalSource(s *SignalSource) Group {
	return Group{Name: "source", Doc: "what drives the input", Fields: []Field{
		real64("resistance", &s.Ohms, quantity.Ohm, 1e-3, 1e6, "source resistance").orZero("a stiff source"),
	}}
}

func load(l *Load) Group {
	return Group{Name: "load", Doc: "what the stage drives: a resistor, or a loudspeaker where resonance is given", Fields: []Field{
		real64("resistance", &l.Ohms, quantity.Ohm, 0.1, 1e6, "resistance; of a loudspeaker its voice coil, Re"),
		real64("inductance", &l.Henries, quantity.Henry, 1e-6, 1, "of the voice coil, Le").orZero("none"),
		real64("resonance", &l.Resonance, quantity.Hertz, 5, 1e4, "of the moving system, fs").orZero("a resistor"),
		real64("qms", &l.Qms, quantity.Number, 0.1, 50, "mechanical quality at fs").optional(),
		real64("qes", &l.Qes, quantity.Number, 0.1, 50, "electrical quality at fs").optional(),
		real64("force_factor", &l.Force, quantity.Number, 0.1, 100, "Bl, N/A, for the movement of the cone").orZero("unknown"),
	}}
}

func singleSupply(s *Supply) Group {
	return Group{Name: "supply", Doc: "the one supply", Fields: []Field{
		real64("positive", &s.Positive, quantity.Volt, 0.5, 400, "supply above ground"),
	}}
}

func tapBias(b *TapBias) Group {
	return Group{Name: "bias", Doc: "the bias parts as built: a divider from the supply at the bias tap", Fields: []Field{
		real64("upper", &b.Upper, quantity.Ohm, 1, 1e7, "supply to tap").orZero("none"),
		real64("lower", &b.Lower, quantity.Ohm, 0.1, 1e7, "tap to ground").orZero("none"),
		{
			Key: "diodes", Value: &b.Diodes, Range: quantity.Range{Min: 0, Max: 6}, Optional: true,
			Doc: "in series from tap to ground",
		},
		real64("bypass", &b.Bypass, quantity.Farad, 1e-9, 1, "capacitor from tap to ground").orZero("none"),
	}}
}

func transformer(name, doc string, t *Transformer) Group {
	return Group{Name: name, Doc: doc, Fields: []Field{
		real64("ratio", &t.Ratio, quantity.Number, 0.01, 100, "turns of the primary, or of one half of it, to the secondary, or one half of it"),
		real64("primary_resistance", &t.PrimaryOhms, quantity.Ohm, 1e-3, 1e5, "of the primary, or of each half of it"),
		real64("secondary_resistance", &t.SecondaryOhms, quantity.Ohm, 1e-3, 1e5, "of the secondary, or of each half of it"),
		real64("magnetising", &t.Magnetising, quantity.Henry, 1e-4, 1e3, "inductance of the primary, or of one half of it"),
		real64("leakage", &t.Leakage, quantity.Henry, 1e-9, 1, "leakage inductance there").orZero("none"),
		real64("saturation", &t.Saturation, quantity.Weber, 1e-5, 1e3, "flux linkage there at which the magnetising current has doubled").orZero("the core does not saturate"),
	}}
}

func coupling(key, doc string, farads *float64) Group {
	return Group{Name: "coupling", Doc: "capacitors in the way of the signal", Fields: []Field{
		real64(key, farads, quantity.Farad, 1e-9, 1, doc),
	}}
}

func baseEmitterResistors(d *Drivers) Group {
	return Group{Name: "drivers", Doc: "parts between driver and output device", Fields: []Field{
		real64("resistance", &d.Ohms, quantity.Ohm, 1, 1e6, "base to emitter of each output device"),
	}}
}

func multiplier(m *Multiplier) Group {
	return Group{Name: "multiplier", Doc: "the transistor that holds a multiple of its base-emitter voltage between the bases", Fields: []Field{
		real64("top", &m.Top, quantity.Ohm, 1, 1e6, "collector to base"),
		real64("bottom", &m.Bottom, quantity.Ohm, 1, 1e6, "base to emitter"),
	}}
}

func fieldEffectLaw(name, doc string, f *FieldEffect) Group {
	return Group{Name: name, Doc: doc + ", at 25 degrees Celsius", Typical: typicals(f, PowerKind, powerField, smallField), Fields: []Field{
		real64("threshold", &f.Threshold, quantity.Volt, 0.1, 10, "gate-source threshold"),
		real64("beta", &f.Beta, quantity.Number, 1e-3, 100, "A/V^2; drain current beta/(2 n) times the square of the volts over threshold"),
		real64("slope", &f.Slope, quantity.Number, 1, 10, "subthreshold slope factor n; the current falls tenfold in 2.3 n kT/q").optional(),
		real64("modulation", &f.Modulation, quantity.Number, 1e-5, 0.5, "channel-length modulation, 1/V").orZero("none"),
		real64("source_resistance", &f.SourceOhms, quantity.Ohm, 1e-4, 100, "inside the device").orZero("none"),
		real64("drain_resistance", &f.DrainOhms, quantity.Ohm, 1e-4, 1e3, "inside the device").orZero("none"),
		real64("threshold_slope", &f.ThresholdSlope, quantity.Number, 0, 0.02, "fall of the threshold, V/K").optional(),
		real64("gain_exponent", &f.GainExponent, quantity.Number, 0, 4, "beta falls with absolute temperature to this power").optional(),
		real64("temperature_rise", &f.Rise, quantity.Rise, -60, 100, "hotter than the other device by this much").optional(),
	}}
}

func feeds(b *Bias) Group {
	return Group{Name: "bias", Doc: "the bias parts as built: a feed resistor from each rail to its base", Fields: []Field{
		real64("feed_upper", &b.FeedUpper, quantity.Ohm, 1, 1e7, "upper rail to upper base"),
		real64("feed_lower", &b.FeedLower, quantity.Ohm, 1, 1e7, "lower rail to lower base"),
	}}
}

func feedbackLoop(f *Feedback) Group {
	return Group{Name: "feedback", Doc: "an amplifier before the stage, with a feedback loop around both; the source then drives the amplifier", Fields: []Field{
		real64("open_loop_gain", &f.Gain, quantity.Number, 2, 1e7, "at direct current").orZero("no amplifier"),
		real64("gain_bandwidth", &f.Bandwidth, quantity.Hertz, 1e3, 1e9, "gain-bandwidth product").optional(),
		real64("closed_loop_gain", &f.Closed, quantity.Number, 1, 1000, "set by the feedback divider").optional(),
		real64("swing", &f.Swing, quantity.Volt, 0.5, 500, "maximum output of the amplifier on either side").optional(),
	}}
}

func emitterResistors(e *Emitter) Group {
	return Group{Name: "emitter", Doc: "resistors between each output emitter and the output", Fields: []Field{
		real64("resistance", &e.Ohms, quantity.Ohm, 1e-3, 1e3, "each").orZero("none"),
	}}
}

func diodeBias(b *Bias) Group {
	return Group{Name: "bias", Doc: "the bias parts as built: a feed resistor from each rail to its base and diodes in series between the bases", Fields: []Field{
		real64("feed_upper", &b.FeedUpper, quantity.Ohm, 1, 1e7, "upper rail to upper base"),
		real64("feed_lower", &b.FeedLower, quantity.Ohm, 1, 1e7, "lower rail to lower base"),
		{
			Key: "diodes", Value: &b.Diodes, Range: quantity.Range{Min: 0, Max: 12},
			Doc: "how many; the input is at their middle, an odd one being below it",
		},
		real64("trimmer_series", &b.Series, quantity.Ohm, seriesLeast, seriesMost,
			"trimmer in series with the diodes, half of it on each side of their middle").orZero("none"),
		real64("trimmer_across", &b.Across, quantity.Ohm, acrossLeast, acrossMost, "trimmer from base to base").orZero("none"),
	}}
}

func diodeLaw(d *Diode) Group {
	return Group{Name: "diode", Doc: "law of one bias diode, at 25 degrees Celsius", Typical: typicals(d, SmallKind, powerDiode, smallDiode), Fields: []Field{
		real64("saturation_current", &d.Saturation, quantity.Ampere, 1e-20, 1e-5, "IS"),
		real64("emission", &d.Emission, quantity.Number, 0.9, 4, "emission coefficient n").optional(),
		real64("resistance", &d.Ohms, quantity.Ohm, 1e-4, 1e3, "series resistance").orZero("none"),
		real64("saturation_exponent", &d.Exponent, quantity.Number, 0, 8, "temperature exponent of IS").optional(),
		real64("gap", &d.Gap, quantity.Volt, 0.5, 2, "energy gap").optional(),
	}}
}

// smallTransistorLaw is the table of a transistor that drives or biases.
func smallTransistorLaw(name, doc string, t *Transistor) Group {
	g := transistorLaw(name, doc, t)
	g.Typical = typicals(t, SmallKind, powerTransistor, smallTransistor)
	return g
}

func transistorLaw(name, doc string, t *Transistor) Group {
	return Group{Name: name, Doc: doc + ", at 25 degrees Celsius", Typical: typicals(t, PowerKind, powerTransistor, smallTransistor), Fields: []Field{
		real64("saturation_current", &t.Saturation, quantity.Ampere, 1e-20, 1e-5, "IS, transport saturation current"),
		real64("emission", &t.Emission, quantity.Number, 0.9, 2, "emission coefficient n").optional(),
		real64("forward_gain", &t.ForwardGain, quantity.Number, 2, 1e5, "ideal forward current gain").orZero("infinite"),
		real64("reverse_gain", &t.ReverseGain, quantity.Number, 0.01, 1e3, "ideal reverse current gain; finite, for a saturated base must draw current"),
		real64("leakage_current", &t.Leakage, quantity.Ampere, 1e-20, 1e-5, "saturation current of the base-emitter leakage").orZero("none"),
		real64("leakage_emission", &t.LeakageEmission, quantity.Number, 1, 4, "its emission coefficient").optional(),
		real64("early_voltage", &t.Early, quantity.Volt, 5, 1e4, "Early voltage").orZero("no Early effect"),
		real64("knee_current", &t.Knee, quantity.Ampere, 1e-4, 1e4, "collector current at which the gain droops").orZero("no droop"),
		real64("base_resistance", &t.BaseOhms, quantity.Ohm, 1e-3, 1e4, "in series with the base; never zero, for it bounds the current of a saturated base"),
		real64("emitter_resistance", &t.EmitterOhms, quantity.Ohm, 1e-4, 100, "inside the device").orZero("none"),
		real64("collector_resistance", &t.CollectorOhms, quantity.Ohm, 1e-4, 1e3, "in series with the collector").orZero("none"),
		real64("saturation_exponent", &t.Exponent, quantity.Number, 0, 8, "temperature exponent of IS").optional(),
		real64("gap", &t.Gap, quantity.Volt, 0.5, 2, "energy gap").optional(),
		real64("gain_exponent", &t.GainExponent, quantity.Number, 0.1, 4, "temperature exponent of the gains").orZero("constant gain"),
		real64("temperature_rise", &t.Rise, quantity.Rise, -60, 100, "hotter than the other device by this much").optional(),
		real64("transit_time", &t.TransitTime, quantity.Second, 1e-12, 1e-4, "forward transit time; delays turning on and off").orZero("none"),
		real64("base_emitter_capacitance", &t.BaseEmitterFarads, quantity.Farad, 1e-14, 1e-6, "of the junction").orZero("none"),
		real64("base_collector_capacitance", &t.BaseCollectorFarads, quantity.Farad, 1e-14, 1e-6, "of the junction").orZero("none"),
	}}
}

func thermal(t *Thermal) Group {
	return Group{Name: "thermal", Doc: "the way of the heat out of the output devices", Fields: []Field{
		real64("ambient", &t.Ambient, quantity.Kelvin, device.ZeroCelsius-40, device.ZeroCelsius+100, "air temperature").optional(),
		real64("junction_to_case", &t.JunctionToCase, quantity.PerWatt, 0.01, 1e3, "each device"),
		real64("case_to_sink", &t.CaseToSink, quantity.PerWatt, 0.001, 1e3, "each device"),
		real64("sink_to_air", &t.SinkToAir, quantity.PerWatt, 0.01, 1e3, "the sink that the devices share"),
		real64("sink_store", &t.SinkStore, quantity.HeatStore, 0.01, 1e5, "heat capacity of the sink").optional(),
		real64("junction_store", &t.JunctionStore, quantity.HeatStore, 1e-4, 1e3, "heat capacity of each device, die and case").optional(),
		real64("coupling", &t.Coupling, quantity.Number, 0.001, 1, "how much of the sink's rise the bias part follows").orZero("bias part in free air"),
		real64("maximum_junction", &t.MaximumJunction, quantity.Kelvin, device.ZeroCelsius+60, device.ZeroCelsius+250, "junction temperature not to be passed").optional(),
	}}
}
