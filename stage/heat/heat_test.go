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

// TestChain checks a power transistor by Ohm's law for heat, the rise over the sum of the
// resistances in its way (Sedra and Smith, Microelectronic Circuits, power transistors,
// has such an example; these inputs are from memory): junction 150 C, air 50 C, junction to
// case 3.12, case to sink 0.5, sink to air 4, free air 62.5 K/W give 100/62.5 = 1.6 W in
// free air, 100/7.62 = 13.12 W on the sink, 100/3.12 = 32.05 W on an ideal one.
func TestChain(t *testing.T) {
	free := Chain{Ambient: zero + 50, JunctionToCase: 62.5}
	within(t, "free air", free.MaximumPower(zero+150), 1.6, 5e-4)
	sink := Chain{Ambient: zero + 50, JunctionToCase: 3.12, CaseToSink: 0.5, SinkToAir: 4}
	within(t, "on the sink", sink.MaximumPower(zero+150), 13.12, 5e-3)
	ideal := Chain{Ambient: zero + 50, JunctionToCase: 3.12}
	within(t, "ideal sink", ideal.MaximumPower(zero+150), 32.05, 5e-3)
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

// TestWarmingEndsSteady checks that constant powers lead to the steady chain.
func TestWarmingEndsSteady(t *testing.T) {
	c := Chain{Ambient: 300, JunctionToCase: 2, CaseToSink: 1, SinkToAir: 0.5}
	w := NewWarming(c, 50, 0.2, 2)
	for range 100000 {
		w.Advance([]float64{10, 4}, 0.01)
	}
	want := c.Steady(10, 4)
	within(t, "sink", w.Sink, want.Sink, 1e-6)
	within(t, "first", w.Junctions[0], want.Junctions[0], 1e-6)
	within(t, "second", w.Junctions[1], want.Junctions[1], 1e-6)
}

// TestWarmingFollows checks the rise of a sink against its exponential, with
// devices too small to keep any heat, and of a device against its own with a sink too
// large to warm up; and that the heat put in is all there or gone into the air.
func TestWarmingFollows(t *testing.T) {
	sink := NewWarming(Chain{Ambient: 300, JunctionToCase: 1e-3, SinkToAir: 2}, 50, 1e-6, 1)
	device := NewWarming(Chain{Ambient: 300, JunctionToCase: 2, SinkToAir: 1}, 1e9, 0.3, 1)
	for range 13000 {
		sink.Advance([]float64{20}, 0.01)
	}
	for range 600 {
		device.Advance([]float64{20}, 1e-3)
	}
	within(t, "sink", sink.Sink, 340-40*math.Exp(-1.3), 1e-3)
	within(t, "device", device.Junctions[0], 340-40*math.Exp(-1), 1e-3)

	closed := NewWarming(Chain{Ambient: 300, JunctionToCase: 2, SinkToAir: 1e12}, 50, 0.3, 1)
	for range 1000 {
		closed.Advance([]float64{20}, 1e-2)
	}
	within(t, "heat kept", 50*(closed.Sink-300)+0.3*(closed.Junctions[0]-300), 200, 1e-4)
}

// TestRampIsExact holds a long step against twenty thousand short ones, of the first order, and a bias part
// against the answer of two stores in a row to constant heat (closed form): with the sink
// at its end times 1 - e^(-t/a), a part with time constant b follows it as
// 1 - (a e^(-t/a) - b e^(-t/b))/(a - b).
func TestRampIsExact(t *testing.T) {
	c := Chain{Ambient: 300, JunctionToCase: 2, CaseToSink: 1, SinkToAir: 0.5}
	make2 := func() *Warming {
		w := NewWarming(c, 50, 0.2, 2)
		w.Coupling, w.BiasConstant = 0.8, 12
		return w
	}
	long, short := make2(), make2()
	long.Ramp([]float64{10, 4}, []float64{30, 0}, 20)
	const parts = 20000
	for i := range parts {
		share := (float64(i) + 0.5) / parts
		short.Advance([]float64{10 + 20*share, 4 - 4*share}, 20.0/parts)
	}
	within(t, "sink", long.Sink, short.Sink, 3e-4)
	within(t, "first", long.Junctions[0], short.Junctions[0], 3e-4)
	within(t, "second", long.Junctions[1], short.Junctions[1], 3e-4)
	within(t, "bias part", long.Bias, short.Bias, 3e-4)

	w := NewWarming(Chain{Ambient: 300, JunctionToCase: 1e-3, SinkToAir: 2}, 50, 1e-3, 1)
	w.Coupling, w.BiasConstant = 0.5, 30
	w.Ramp([]float64{20}, []float64{20}, 130)
	const a, b = 100, 30
	rise := 1 - (a*math.Exp(-130.0/a)-b*math.Exp(-130.0/b))/(a-b)
	within(t, "bias part in the closed form", w.Bias, 300+0.5*40*rise, 1e-3)
	within(t, "case", w.Case(0), w.Sink, 1e-9)
}
