package heat

import "math"

// Sink is a heatsink's temperature in time: one heat capacity behind one
// resistance, whose exact solution over a step of constant power it follows.
type Sink struct {
	Ambient     float64 // K
	Resistance  float64 // to the air, K/W
	Store       float64 // J/K
	Temperature float64 // K
}

// Advance moves the sink's temperature on by seconds of constant power in watts
// and returns the new temperature.
func (s *Sink) Advance(watts, seconds float64) float64 {
	final := s.Ambient + s.Resistance*watts
	s.Temperature = final + (s.Temperature-final)*math.Exp(-seconds/(s.Resistance*s.Store))
	return s.Temperature
}
