package render

import (
	"fmt"

	"quietcross/dsp/resample"
	"quietcross/dsp/shape"
	"quietcross/stage"
)

// Solver says how a stage is solved.
type Solver string

// The solvers.
const (
	// SolverAuto takes static for a circuit without memory, else dynamic.
	SolverAuto Solver = "auto"
	// SolverStatic solves the midband circuit once, as a memoryless law that is
	// applied without aliases.
	SolverStatic Solver = "static"
	// SolverDynamic solves the circuit in time, step by step.
	SolverDynamic Solver = "dynamic"
)

// ParseSolver reads the name of a solver.
func ParseSolver(name string) (Solver, error) {
	switch s := Solver(name); s {
	case SolverAuto, SolverStatic, SolverDynamic:
		return s, nil
	}
	return "", fmt.Errorf("solver: found %q, legal are auto, static and dynamic", name)
}

// The oversampling of each solver unless another is asked for.
const (
	// StaticOversample keeps the aliases of a full-scale 10 kHz tone through an
	// unbiased pair more than 120 dB below it.
	StaticOversample = 8
	// DynamicOversample keeps the dynamic solver within -110 dB of the static
	// one at 1 kHz; it has no antiderivatives to lean on.
	DynamicOversample = 16
)

// chooseSolver resolves a solver left to the circuit and the solver's own
// oversampling.
func (o *Options) chooseSolver(st *stage.Stage) {
	if o.Solver == SolverAuto || o.Solver == "" {
		o.Solver = SolverStatic
		if st.HasMemory() {
			o.Solver = SolverDynamic
		}
	}
	if o.Oversample == 0 {
		o.Oversample = StaticOversample
		if o.Solver == SolverDynamic {
			o.Oversample = DynamicOversample
		}
	}
}

// An upsampler raises one channel of stage input to the oversampled rate;
// len(high) is a multiple of len(src).
type upsampler interface {
	Process(high, src []float64)
}

// A way is how signals pass through a stage: what comes before it, after it, and
// how late they come out.
type way interface {
	// source returns the way up of one channel.
	source() upsampler
	// reference returns the processor of one channel of the ideal stage.
	reference() processor
	// processor returns that of one channel of a rung at rate Hz.
	processor(r *rung, rate int) (processor, error)
	// latency is the delay of the whole way, frames.
	latency() int
}

// newWay returns the way of a solver, which must not be auto.
func newWay(s Solver, oversample int) way {
	if s == SolverDynamic {
		return dynamicWay{oversample}
	}
	return staticWay{oversample}
}

// staticWay goes through laws.
type staticWay struct{ oversample int }

func (w staticWay) source() upsampler    { return shape.NewSource(w.oversample) }
func (w staticWay) reference() processor { return w.law(shape.Linear(1)) }

func (w staticWay) processor(r *rung, _ int) (processor, error) { return w.law(r.law), nil }

func (w staticWay) law(l *shape.Law) processor {
	return lawProcessor{shape.NewBranch(l, w.oversample)}
}

func (w staticWay) latency() int {
	return shape.NewRoute([]*shape.Law{shape.Linear(1)}, w.oversample).Latency()
}

// lawProcessor applies a law.
type lawProcessor struct{ *shape.Branch }

func (p lawProcessor) Process(dst, high []float64) error {
	p.Branch.Process(dst, high)
	return nil
}

// dynamicWay goes through the circuit in time.
type dynamicWay struct{ oversample int }

func (w dynamicWay) source() upsampler    { return resample.NewUp(w.oversample) }
func (w dynamicWay) reference() processor { return newTimeProcessor(w.oversample, nil) }

func (w dynamicWay) processor(r *rung, rate int) (processor, error) {
	dynamic, err := r.biased.Dynamic(float64(rate * w.oversample))
	if err != nil {
		return nil, err
	}
	return newTimeProcessor(w.oversample, dynamic), nil
}

func (w dynamicWay) latency() int {
	high := resample.NewUp(w.oversample).Latency() + resample.NewDown(w.oversample).Latency()
	return (high + w.oversample - 1) / w.oversample
}

// timeProcessor moves a dynamic stage, or the ideal stage where that is nil,
// through the oversampled input, and pads its way to whole frames.
type timeProcessor struct {
	dynamic *stage.Dynamic
	ledger  *stage.Ledger // nil where energy is not accounted for
	down    *resample.Down
	pad     int
	work    []float64 // pad samples held back, then new
}

func newTimeProcessor(oversample int, dynamic *stage.Dynamic) *timeProcessor {
	p := &timeProcessor{dynamic: dynamic, down: resample.NewDown(oversample)}
	late := resample.NewUp(oversample).Latency() + p.down.Latency()
	p.pad = (oversample - late%oversample) % oversample
	p.work = make([]float64, p.pad+blockFrames*oversample)
	return p
}

func (p *timeProcessor) Process(dst, high []float64) error {
	fresh := p.work[p.pad : p.pad+len(high)]
	if p.dynamic == nil {
		copy(fresh, high)
	} else if err := p.dynamic.Process(fresh, high); err != nil {
		return err
	}
	p.down.Process(dst, p.work[:len(high)])
	copy(p.work[:p.pad], p.work[len(high):len(high)+p.pad])
	return nil
}
