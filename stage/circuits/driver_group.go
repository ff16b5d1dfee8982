package circuits

import "quietcross/stage/quantity"

// driverGroups are the optional tables of a driver.
func driverGroups(coupling driverCoupling, p *Parts) []Group {
	d := &p.Driver
	fields := []Field{
		real64("divider_upper", &d.DividerUpper, quantity.Ohm, 10, 1e7, "upper supply to base"),
		real64("divider_lower", &d.DividerLower, quantity.Ohm, 10, 1e7, "base to lower supply"),
		real64("emitter", &d.Emitter, quantity.Ohm, 1, 1e5, "to the lower supply, the part that may be bypassed"),
		real64("degeneration", &d.Degeneration, quantity.Ohm, 0.1, 1e4, "between the emitter and that resistor, never bypassed").orZero("none"),
		real64("bypass", &d.Bypass, quantity.Farad, 1e-9, 1, "capacitor across the emitter resistor").orZero("none"),
		real64("input_capacitor", &d.Input, quantity.Farad, 1e-9, 1, "source to base"),
	}
	switch coupling {
	case driverTransformer:
		fields = append(fields, real64("damping", &d.Damping, quantity.Ohm, 10, 1e5,
			"across the input transformer's primary, which stands in the collector; it takes the current over where the bases draw none"))
	case driverCapacitor:
		fields = append(fields, driverCollector(d), real64("output_capacitor", &d.Output, quantity.Farad, 1e-9, 1, "collector to tap"))
	case driverDirect:
		fields = append(fields, driverCollector(d))
	}
	law := transistorLaw("driver_device", "law of the transistor of the class A driver, NPN", &d.Device)
	law.Fitted = &d.Fitted
	return []Group{{
		Name: "driver", Fitted: &d.Fitted, Fields: fields,
		Doc: "the class A stage between source and output stage, one transistor in common emitter; optional",
	}, law}
}

func driverCollector(d *Driver) Field {
	return real64("collector", &d.Collector, quantity.Ohm, 1, 1e6, "upper supply to collector")
}
