package heat

import (
	"math"
	"testing"
)

func within(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.9g, want %.9g within %.2g", what, got, want, tolerance)
	}
}

const zero = 273.15

// TestChain checks the power-transistor example of Sedra and Smith (inputs from
// memory): junction 150 C, air 50 C, junction to case 3.12, case to sink 0.5, sink to air
// 4, free air 62.5 K/W; 1.6 W in free air, 13.12 W on the sink, 32.05 W on an ideal one.
func TestChain(t *testing.T) {
	free := Chain{Ambient: zero + 50, JunctionToCase: 62.5}
	within(t, "free air", free.GreatestPower(zero+150), 1.6, 5e-4)
	sink := Chain{Ambient: zero + 50, JunctionToCase: 3.12, CaseToSink: 0.5, SinkToAir: 4}
	within(t, "on the sink", sink.GreatestPower(zero+150), 13.12, 5e-3)
	ideal := Chain{Ambient: zero + 50, JunctionToCase: 3.12}
	within(t, "ideal sink", ideal.GreatestPower(zero+150), 32.05, 5e-3)
	steady := sink.Steady(13.1234)
	within(t, "junction", steady.Junctions[0], zero+150, 0.01)
	within(t, "case", steady.Cases[0]-steady.Sink, 0.5*13.1234, 1e-9)
}

// TestSharedSink checks that devices share the sink's rise and nothing else.
func TestSharedSink(t *testing.T) {
	c := Chain{Ambient: 300, JunctionToCase: 2, CaseToSink: 1, SinkToAir: 0.5}
	got := c.Steady(10, 4)
	within(t, "sink", got.Sink, 307, 1e-12)
	within(t, "first", got.Junctions[0], 337, 1e-12)
	within(t, "second", got.Junctions[1], 319, 1e-12)
}

// TestStabilityLimit checks theta VCE (2 mV/K)/(VT/IC + RE) < 1 (form from memory):
// 30 V, 50 mA, 0.22 ohm, 26 mV need theta under 12.3333 K/W.
func TestStabilityLimit(t *testing.T) {
	within(t, "theta", GreatestResistance(30, -2e-3, 26e-3, 50e-3, 0.22), 12.3333, 5e-5)
	within(t, "loop gain there", Feedback(12.3333333, 30, 2e-3, 26e-3, 50e-3, 0.22), 1, 1e-8)
}

// TestSinkFollows checks the sink against the exponential it must follow, in one
// step and in many.
func TestSinkFollows(t *testing.T) {
	one := Sink{Ambient: 300, Resistance: 2, Store: 50, Temperature: 300}
	many := one
	one.Advance(20, 130)
	for range 1000 {
		many.Advance(20, 0.13)
	}
	within(t, "one step", one.Temperature, 340-40*math.Exp(-1.3), 1e-12)
	within(t, "many steps", many.Temperature, one.Temperature, 1e-9)
}
