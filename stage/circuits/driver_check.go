package circuits

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"quietcross/stage/quantity"
)

// checkDriver refuses a driver that is there twice, is driven by nothing or stands
// still.
func (k *Kind) checkDriver(p *Parts) error {
	loop := slices.ContainsFunc(k.groups(p), func(g Group) bool { return g.Name == "feedback" })
	if loop && p.Feedback.Gain > 0 {
		return errors.New("driver and feedback.open_loop_gain are both there: the amplifier of the feedback loop is itself the driver; leave one of them out")
	}
	span := quantity.Range{Unit: quantity.Volt, Min: 0, Max: 1e4}
	if err := span.Check(threeDigits(driverSpan(p))); err != nil {
		return fmt.Errorf("source.resistance, driver.divider_upper and driver.divider_lower ask for an input to drive the driver fully: %w", err)
	}
	total := p.Supply.total()
	volts, _ := p.Driver.baseVolts(total)
	base := quantity.Range{Unit: quantity.Volt, Min: 0.5, Max: total}
	if err := base.Check(threeDigits(volts)); err != nil {
		return fmt.Errorf("driver.divider_upper and driver.divider_lower put the base above the lower supply, so that the driver hardly conducts: %w", err)
	}
	if err := k.checkTurnOff(p); err != nil {
		return err
	}
	if saturated, load := k.saturates(p); saturated {
		return fmt.Errorf("driver is saturated at rest: driver.divider_upper, driver.divider_lower and driver.emitter ask for about %s, "+
			"which the supply of %s does not drive through %s in the collector and %s in the emitter; lower that current or those resistances",
			quantity.Format(threeDigits(p.Driver.rest(total)), quantity.Ampere), quantity.Format(total, quantity.Volt),
			quantity.Format(threeDigits(load), quantity.Ohm), quantity.Format(p.Driver.Emitter+p.Driver.Degeneration, quantity.Ohm))
	}
	return nil
}

// threeDigits rounds an estimate to what it says.
func threeDigits(v float64) float64 {
	if v == 0 || math.IsInf(v, 0) || math.IsNaN(v) {
		return v
	}
	scale := math.Pow(10, 2-math.Floor(math.Log10(math.Abs(v))))
	return math.Round(v*scale) / scale
}

// checkTurnOff bounds the voltage that the input transformer makes on either side when
// the driver turns off the current that the primary holds.
func (k *Kind) checkTurnOff(p *Parts) error {
	if k.driver != driverTransformer {
		return nil
	}
	legal := quantity.Range{Unit: quantity.Volt, Min: 0, Max: 1e3}
	volts := p.Driver.rest(p.Supply.total()) * p.Driver.Damping
	if err := legal.Check(threeDigits(volts * max(1, 1/p.Input.Ratio))); err != nil {
		return fmt.Errorf("driver.damping and the driver's direct current make a voltage on the input transformer when it turns off that no transistor stands: %w", err)
	}
	return nil
}
