package heat

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// Over seconds and minutes a stage's powers change slowly while its junctions follow in
// a fraction of a second. Steps that are long against the junctions' time constants need
// the whole chain at once: it is linear, T' = A T + (powers), and with powers that run
// in a straight line over the step its answer is exact, by the exponential of one matrix
// that has the powers and their slope as further states (C. F. Van Loan, IEEE Trans.
// Automatic Control 23(3):395, 1978).

// Ramp moves on by seconds > 0 with powers that run in straight lines from one set to
// another, one a device; it is exact. It panics unless there are as many powers as
// devices.
func (w *Warming) Ramp(from, to []float64, seconds float64) {
	devices := len(w.Junctions)
	if len(from) != devices || len(to) != devices {
		panic("heat: as many powers as devices are needed")
	}
	// States: junctions, sink, bias part, all above the ambient; then 1 and the time.
	sink, part, one, time := devices, devices+1, devices+2, devices+3
	a := mat.NewDense(devices+4, devices+4, nil)
	add := func(row, column int, value float64) { a.Set(row, column, a.At(row, column)+value) }
	path := 1 / (w.JunctionToCase + w.CaseToSink)
	for i := range devices {
		a.Set(i, i, -path/w.JunctionStore)
		a.Set(i, sink, path/w.JunctionStore)
		a.Set(i, one, from[i]/w.JunctionStore)
		a.Set(i, time, (to[i]-from[i])/seconds/w.JunctionStore)
		add(sink, i, path/w.SinkStore)
		add(sink, sink, -path/w.SinkStore)
	}
	add(sink, sink, -1/(w.SinkToAir*w.SinkStore))
	if w.BiasConstant > 0 {
		a.Set(part, part, -1/w.BiasConstant)
		a.Set(part, sink, w.Coupling/w.BiasConstant)
	}
	a.Set(time, one, 1)
	a.Scale(seconds, a)
	var exponential mat.Dense
	exponential.Exp(a)

	begin := mat.NewVecDense(devices+4, nil)
	for i, t := range w.Junctions {
		begin.SetVec(i, t-w.Ambient)
	}
	begin.SetVec(sink, w.Sink-w.Ambient)
	begin.SetVec(part, w.Bias-w.Ambient)
	begin.SetVec(one, 1)
	var end mat.VecDense
	end.MulVec(&exponential, begin)
	for i := range w.Junctions {
		w.Junctions[i] = w.Ambient + end.AtVec(i)
	}
	w.Sink = w.Ambient + end.AtVec(sink)
	w.Bias = w.Ambient + end.AtVec(part)
	w.follow(0)
}

// Case returns the temperature of a device's case, K: a part of the way from the sink to
// the junction, for the store of a device is counted at its junction.
func (w *Warming) Case(device int) float64 {
	return w.Sink + (w.Junctions[device]-w.Sink)*w.CaseToSink/(w.JunctionToCase+w.CaseToSink)
}

// follow takes the bias part on by seconds toward its share of the sink's rise; without
// a lag it is there at once.
func (w *Warming) follow(seconds float64) {
	end := w.Ambient + w.Coupling*(w.Sink-w.Ambient)
	switch {
	case w.BiasConstant == 0:
		w.Bias = end
	case seconds > 0:
		w.Bias = settle(w.Bias, end, seconds/w.BiasConstant)
	}
}

// Fastest returns the shortest time constant of the chain, s.
func (w *Warming) Fastest() float64 {
	constant := min((w.JunctionToCase+w.CaseToSink)*w.JunctionStore, w.SinkToAir*w.SinkStore)
	if w.BiasConstant > 0 {
		constant = min(constant, w.BiasConstant)
	}
	return math.Max(constant, math.SmallestNonzeroFloat64)
}
