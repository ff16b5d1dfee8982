package network

import (
	"math"
	"testing"

	"quietcross/dsp/bracket"
	"quietcross/stage/device"
)

// hanging is a node between two strings of diodes that carry next to nothing: what a
// driver's open capacitor leaves of the tap of a bias string. The lower string has a
// series resistance.
type hanging struct {
	upper, lower device.Diode
	ohms         float64
	volts        float64 // across both
}

func (h hanging) solver() (s *Solver, tap Node, top Source) {
	c := New()
	high, top := c.Drive("high", h.volts)
	tap = c.Node("tap")
	c.Add(
		&Diode{Name: "upper", Anode: high, Cathode: tap, Law: h.upper, SeriesOhms: h.ohms},
		&Diode{Name: "lower", Anode: tap, Cathode: Ground, Law: h.lower, SeriesOhms: h.ohms},
	)
	return c.Compile(), tap, top
}

// current is that of one string, by Shockley's law and the leakage across it.
func (h hanging) current(d device.Diode, volts float64) float64 {
	return d.Saturation*math.Expm1(volts/d.Scale) + leakConductance*volts
}

// slope is its derivative.
func (h hanging) slope(d device.Diode, volts float64) float64 {
	return d.Saturation/d.Scale*math.Exp(volts/d.Scale) + leakConductance
}

// TestHangingNode finds the node's voltage and its derivative where its whole
// conductance is under the rounding of the milliohm beside it. The voltage is held to
// bisection of the one equation that remains, for the currents drop nothing in the
// milliohm, the derivative to the divider of the two slopes.
func TestHangingNode(t *testing.T) {
	for _, h := range []hanging{
		{device.NewDiode(1e-19, 0.16), device.NewDiode(3e-20, 0.05), 1e-3, 2.5},
		{device.NewDiode(1e-21, 0.054), device.NewDiode(1e-21, 0.11), 1e-4, 0.9},
		{device.NewDiode(3e-20, 0.226), device.NewDiode(1e-18, 0.226), 5e-3, -0.27},
		{device.NewDiode(1.4e-17, 0.32), device.NewDiode(2e-17, 0.4), 1e-2, 3.1},
	} {
		want, err := bracket.Root(func(v float64) (float64, error) {
			return h.current(h.lower, v) - h.current(h.upper, h.volts-v), nil
		}, min(0, h.volts), max(0, h.volts), 0)
		if err != nil {
			t.Fatal(err)
		}
		s, tap, top := h.solver()
		if err := s.Solve(); err != nil {
			t.Errorf("%+v: %v", h, err)
			continue
		}
		if got := s.Voltage(tap); math.Abs(got-want) > 1e-9 {
			t.Errorf("%+v: %.12g V, bisection gives %.12g V", h, got, want)
		}
		above, below := h.slope(h.upper, h.volts-want), h.slope(h.lower, want)
		if got, want := s.Derivative(tap, top), above/(above+below); math.Abs(got-want) > 1e-6 {
			t.Errorf("%+v: derivative %.9g, the divider gives %.9g", h, got, want)
		}
	}
}

// TestSaturatedByStiffSource holds a transistor of hundreds of megaamperes forward, which
// its charge makes an unknown: a stiff base takes both junctions to 2.6 V, and what
// flows is the difference of two such currents. The emitter is held to bisection of the
// one equation that remains,
//
//	IS (exp(VBE/VT) - exp(VBC/VT)) = VE/R
func TestSaturatedByStiffSource(t *testing.T) {
	const base, collector, ohms = 3.5, 0.87, 2.0
	const saturation = 2.55e-21
	law := device.Bipolar{Saturation: saturation, Emission: 1.5, ReverseGain: 1000, Reference: 300, Gap: 1.1, Exponent: 3}
	c := New()
	b, _ := c.Drive("base", base)
	top, _ := c.Drive("collector", collector)
	emitter := c.Node("emitter")
	c.Add(
		&Bipolar{Name: "device", Collector: top, Base: b, Emitter: emitter, Polarity: NPN, Law: law.At(300), TransitTime: 1e-9},
		Resistor{A: emitter, B: Ground, Ohms: ohms},
	)
	scale := 1.5 * device.ThermalVoltage(300)
	want, err := bracket.Root(func(v float64) (float64, error) {
		return saturation*(math.Exp((base-v)/scale)-math.Exp((base-collector)/scale)) - v/ohms, nil
	}, 0, collector, 0)
	if err != nil {
		t.Fatal(err)
	}
	s := c.Compile()
	if err := s.Solve(); err != nil {
		t.Fatal(err)
	}
	if got := s.Voltage(emitter); math.Abs(got-want) > 1e-12 {
		t.Errorf("emitter at %.15g V, bisection gives %.15g V", got, want)
	}
}
