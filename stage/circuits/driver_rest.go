package circuits

import "math"

// junctionVolts is a base-emitter voltage for estimates (common practice).
const junctionVolts = 0.7

// total is the voltage between the supplies, V.
func (s *Supply) total() float64 { return s.Positive + s.Negative }

// baseVolts is the open voltage of the base divider above the lower supply, V, and
// its resistance.
func (d *Driver) baseVolts(total float64) (volts, ohms float64) {
	sum := d.DividerUpper + d.DividerLower
	return total * d.DividerLower / sum, d.DividerUpper * d.DividerLower / sum
}

// rest estimates the driver's emitter current at rest, A: what the divider's voltage
// less a junction's drives through the emitter resistors and, by the base current,
// the divider (Boylestad and Nashelsky, Electronic Devices and Circuit Theory, exact
// analysis of voltage-divider bias).
func (d *Driver) rest(total float64) float64 {
	volts, ohms := d.baseVolts(total)
	if d.Device.ForwardGain > 0 {
		ohms /= d.Device.ForwardGain + 1
	} else {
		ohms = 0
	}
	return max(0, volts-junctionVolts) / (d.Emitter + d.Degeneration + ohms)
}

// driverSpan is an input that surely takes the driver from cut-off to saturation: no
// base moves by more than the whole supply, and the source's resistance loses to the
// divider and to the base current.
func driverSpan(p *Parts) float64 {
	total := p.Supply.total()
	_, divider := p.Driver.baseVolts(total)
	loss := 1 + p.Source.Ohms/divider
	if gain := p.Driver.Device.ForwardGain; gain > 0 {
		loss += p.Source.Ohms / (gain * (p.Driver.Emitter + p.Driver.Degeneration))
	}
	return (total + 2*junctionVolts) * loss
}

// saturates reports whether the estimated rest leaves the driver no voltage, and the
// direct resistance of its collector's load, ohms.
func (k *Kind) saturates(p *Parts) (bool, float64) {
	d := &p.Driver
	load := d.Collector
	if k.driver == driverTransformer {
		parallel := 1/d.Damping + 1/max(p.Input.PrimaryOhms, math.SmallestNonzeroFloat64)
		load = 1 / parallel
	}
	total := p.Supply.total()
	return d.rest(total)*(load+d.Emitter+d.Degeneration) > total, load
}
