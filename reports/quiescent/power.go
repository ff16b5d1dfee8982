package quiescent

import "quietcross/stage"

// powers are the mean powers of a stage over a profile, W.
type powers struct {
	outputs []float64 // of each output device, in the order of the thermal chain
	devices float64   // of all devices
	supply  float64   // from all supplies
}

// mean returns the mean powers over a profile.
func mean(b *stage.Biased, p profile) (powers, error) {
	places := b.Outputs()
	sum := powers{outputs: make([]float64, len(places))}
	for _, s := range p {
		at, err := b.Instant(s.volts)
		if err != nil {
			return sum, err
		}
		for i, place := range places {
			sum.outputs[i] += s.part * at.Devices[place].Mean
		}
		sum.devices += s.part * at.Dissipation()
		sum.supply += s.part * at.Supply
	}
	return sum, nil
}

// biasDraw returns what the bias parts of a stage as built draw at rest, W, that it
// does not draw with a forced bias. A driver draws the same either way, and keeps the
// feeds of a pair.
func biasDraw(built *stage.Biased) (float64, error) {
	draw, err := beyondOutputs(built)
	if err != nil || !built.Stage().HasDriver() {
		return draw, err
	}
	forced, err := built.Stage().Set(stage.Bias(0))
	if err != nil {
		return 0, err
	}
	stays, err := beyondOutputs(forced)
	return max(0, draw-stays), err
}

// beyondOutputs returns all that the supplies deliver at rest beyond the output
// devices and their emitter resistors, W.
func beyondOutputs(b *stage.Biased) (float64, error) {
	at, err := b.Instant(0)
	if err != nil {
		return 0, err
	}
	rest := at.Supply
	ohms := b.Stage().Spec().Emitter.Ohms
	for _, place := range b.Outputs() {
		d := b.Point().Devices[place]
		current := d.Current + d.ControlCurrent
		rest -= d.Dissipation + current*current*ohms
	}
	return max(0, rest), nil
}
