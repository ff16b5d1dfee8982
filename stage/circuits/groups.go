package circuits

import (
	"quietcross/stage/device"
	"quietcross/stage/quantity"
)

// Groups that the kinds share. Ranges bound what the laws were written for, and
// are wide enough for a small transistor and a large power device.

func dualSupply(s *Supply) Group {
	return Group{"supply", "the two rails", []Field{
		real64("positive", &s.Positive, quantity.Volt, 0.5, 200, "upper rail above ground"),
		real64("negative", &s.Negative, quantity.Volt, 0.5, 200, "lower rail under ground, written as a positive number"),
	}}
}

func signalSource(s *SignalSource) Group {
	return Group{"source", "what drives the input", []Field{
		real64("resistance", &s.Ohms, quantity.Ohm, 1e-3, 1e6, "source resistance").orZero("a stiff source"),
	}}
}

func load(l *Load) Group {
	return Group{"load", "what the stage drives", []Field{
		real64("resistance", &l.Ohms, quantity.Ohm, 0.1, 1e6, "load resistance"),
	}}
}

func emitterResistors(e *Emitter) Group {
	return Group{"emitter", "resistors between each output emitter and the output", []Field{
		real64("resistance", &e.Ohms, quantity.Ohm, 1e-3, 1e3, "each").orZero("none"),
	}}
}

func diodeBias(b *Bias) Group {
	return Group{"bias", "the bias parts as built: a feed resistor from each rail to its base and diodes in series between the bases", []Field{
		real64("feed_upper", &b.FeedUpper, quantity.Ohm, 1, 1e7, "upper rail to upper base"),
		real64("feed_lower", &b.FeedLower, quantity.Ohm, 1, 1e7, "lower rail to lower base"),
		{
			Key: "diodes", Value: &b.Diodes, Range: quantity.Range{Min: 0, Max: 12},
			Doc: "how many; the input is at their middle, an odd one being below it",
		},
	}}
}

func diodeLaw(d *Diode) Group {
	return Group{"diode", "law of one bias diode, at 25 degrees Celsius", []Field{
		real64("saturation_current", &d.Saturation, quantity.Ampere, 1e-20, 1e-5, "IS"),
		real64("emission", &d.Emission, quantity.Number, 0.9, 4, "emission coefficient n").optional(),
		real64("resistance", &d.Ohms, quantity.Ohm, 1e-4, 1e3, "series resistance").orZero("none"),
		real64("saturation_exponent", &d.Exponent, quantity.Number, 0, 8, "temperature exponent of IS").optional(),
		real64("gap", &d.Gap, quantity.Volt, 0.5, 2, "energy gap").optional(),
	}}
}

func transistorLaw(name, doc string, t *Transistor) Group {
	return Group{name, doc + ", at 25 degrees Celsius", []Field{
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
	}}
}

func thermal(t *Thermal) Group {
	return Group{"thermal", "the way of the heat out of the output devices", []Field{
		real64("ambient", &t.Ambient, quantity.Kelvin, device.ZeroCelsius-40, device.ZeroCelsius+100, "air temperature").optional(),
		real64("junction_to_case", &t.JunctionToCase, quantity.PerWatt, 0.01, 1e3, "each device"),
		real64("case_to_sink", &t.CaseToSink, quantity.PerWatt, 0.001, 1e3, "each device"),
		real64("sink_to_air", &t.SinkToAir, quantity.PerWatt, 0.01, 1e3, "the sink that the devices share"),
		real64("sink_store", &t.SinkStore, quantity.HeatStore, 0.01, 1e5, "heat capacity of the sink").optional(),
		real64("coupling", &t.Coupling, quantity.Number, 0.001, 1, "how much of the sink's rise the bias part follows").orZero("bias part in free air"),
		real64("greatest_junction", &t.GreatestJunction, quantity.Kelvin, device.ZeroCelsius+60, device.ZeroCelsius+250, "junction temperature not to be passed").optional(),
	}}
}
