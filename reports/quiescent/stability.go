package quiescent

import (
	"quietcross/stage"
	"quietcross/stage/circuits"
	"quietcross/stage/device"
	"quietcross/stage/heat"
)

// Stability is how much of a small warming comes back through the circuit.
type Stability struct {
	// Slow is the thermal loop gain once the sink and, by the coupling, the bias
	// part have followed; Fast that of the junction alone, before they do. At 1
	// the bias runs away.
	Slow float64 `json:"slow"`
	Fast float64 `json:"fast"`
	// Textbook is theta VCE |dVBE/dT|/(VT/IC + RE) with theta the resistance that
	// the coupling leaves; 0 for devices without such a law. See heat.Feedback.
	Textbook float64 `json:"textbook"`
}

// Maximum is the greater of the loop gains.
func (s Stability) Maximum() float64 { return max(s.Slow, s.Fast) }

// nudge is the temperature step that derivatives are taken over, K.
const nudge = 0.5

// stability takes the loop gains at rest, with no signal, at the temperatures
// where a settling stands.
func (s *settling) stability() (Stability, error) {
	devices := float64(len(s.powers.outputs))
	byJunction, err := s.powerSlope(circuits.Temperatures{Upper: nudge, Lower: nudge})
	if err != nil {
		return Stability{}, err
	}
	byBias, err := s.powerSlope(circuits.Temperatures{Bias: nudge})
	if err != nil {
		return Stability{}, err
	}
	th := s.bias.stage.Spec().Thermal
	own, shared := th.JunctionToCase+th.CaseToSink, devices*th.SinkToAir
	return Stability{
		Slow:     byJunction*(own+shared) + byBias*th.Coupling*shared,
		Fast:     byJunction * own,
		Textbook: s.textbook(own + (1-th.Coupling)*shared),
	}, nil
}

// powerSlope returns the change of the mean power of an output device at rest
// with temperature, W/K, by a central difference of the step given.
func (s *settling) powerSlope(step circuits.Temperatures) (float64, error) {
	var sides [2]float64
	for i, sign := range []float64{-1, 1} {
		t := s.temperatures
		t.Upper += sign * step.Upper
		t.Lower += sign * step.Lower
		t.Bias += sign * step.Bias
		b, err := s.bias.at(t)
		if err != nil {
			return 0, err
		}
		p, err := mean(b, idle())
		if err != nil {
			return 0, err
		}
		for _, watts := range p.outputs {
			sides[i] += watts / float64(len(p.outputs))
		}
	}
	return (sides[1] - sides[0]) / (2 * nudge), nil
}

// textbook returns the closed form of the loop gain for bipolar output devices.
func (s *settling) textbook(theta float64) float64 {
	spec := s.bias.stage.Spec()
	d, law, ok := s.upper(spec)
	if !ok || d.current <= 0 {
		return 0
	}
	kelvin := s.temperatures.Upper
	vt := law.Emission * device.ThermalVoltage(kelvin)
	slope := (d.control - law.Gap - law.Exponent*vt) / kelvin
	return heat.Feedback(theta, d.main, slope, vt, d.current, spec.Emitter.Ohms+law.EmitterOhms)
}

// operation is what the closed form needs of a device.
type operation struct{ current, control, main float64 }

// upper returns the first output device at rest and its law, and whether it is
// a bipolar transistor.
func (s *settling) upper(spec stage.Spec) (operation, circuits.Transistor, bool) {
	if spec.Upper.Saturation == 0 {
		return operation{}, circuits.Transistor{}, false
	}
	d := s.biased.Point().Devices[s.biased.Outputs()[0]]
	return operation{current: d.Current, control: d.Control, main: d.Main}, spec.Upper, true
}
