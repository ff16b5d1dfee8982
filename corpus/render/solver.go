package render

import (
	"errors"
	"fmt"

	"quietcross/corpus"
	"quietcross/corpus/intime"
	"quietcross/dsp/level"
	"quietcross/dsp/shape"
	"quietcross/stage"
	"quietcross/stage/network"
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
	// StaticOversample keeps the aliases of any full-scale tone to 19 kHz through an
	// unbiased pair more than 120 dB below it, at 44.1 kHz and above.
	StaticOversample  = 4
	DynamicOversample = intime.Oversample
)

// chooseSolver resolves a solver left to the circuit and the solver's own
// oversampling.
func (o *Options) chooseSolver(st *stage.Stage) {
	if o.Solver == SolverAuto || o.Solver == "" {
		o.Solver = SolverStatic
		if st.HasMemory() || o.Drift {
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
	// reference returns the processor of one channel of the ideal stage at rate
	// Hz, for material at level l re the drive.
	reference(rate int, l level.DB) (processor, error)
	// processor returns that of one channel of a rung at rate Hz.
	processor(r *rung, rate int) (processor, error)
	// latency is the delay of the whole way, frames.
	latency() int
}

// newWay returns the way through a stage, whose solver must be chosen.
func newWay(st *stage.Stage, o Options) (way, error) {
	if o.Solver == SolverStatic {
		if o.Drift {
			return nil, errors.New("solver: bias cannot drift in a static law; legal with drift are auto and dynamic")
		}
		return staticWay{o.Oversample}, nil
	}
	ideal, err := intime.NewIdeal(st)
	return dynamicWay{oversample: o.Oversample, ideal: ideal}, err
}

// staticWay goes through laws.
type staticWay struct{ oversample int }

func (w staticWay) source() upsampler { return shape.NewSource(w.oversample) }

func (w staticWay) reference(int, level.DB) (processor, error) { return w.law(shape.Linear(1)), nil }

func (w staticWay) processor(r *rung, _ int) (processor, error) { return w.law(r.law), nil }

func (w staticWay) law(l *shape.Law) processor {
	return lawProcessor{shape.NewBranch(l, w.oversample)}
}

func (w staticWay) latency() int {
	return shape.Latency(w.oversample)
}

// lawProcessor applies a law.
type lawProcessor struct{ *shape.Branch }

func (p lawProcessor) Process(dst, high []float64) error {
	p.Branch.Process(dst, high)
	return nil
}

// dynamicWay goes through the circuit in time.
type dynamicWay struct {
	oversample int
	ideal      *intime.Ideal
}

func (w dynamicWay) source() upsampler { return intime.Source(w.oversample) }

func (w dynamicWay) reference(rate int, l level.DB) (processor, error) {
	channel, err := w.ideal.Channel(rate, w.oversample, blockFrames, l)
	if err != nil {
		return nil, err
	}
	return &timeProcessor{Channel: channel}, nil
}

func (w dynamicWay) processor(r *rung, rate int) (processor, error) {
	biased := r.Biased()
	if r.settled != nil {
		biased = r.settled.Biased
	}
	channel, err := intime.New(biased, rate, w.oversample, blockFrames)
	if err != nil {
		return nil, err
	}
	p := &timeProcessor{Channel: channel}
	if dynamic, ok := channel.Stage(); ok && r.settled != nil {
		p.warmth = dynamic.FollowHeat(r.settled.Temperatures, r.settled.Sink)
	}
	return p, nil
}

func (w dynamicWay) latency() int { return intime.Latency(w.oversample) }

// timeProcessor moves a stage through the oversampled input.
type timeProcessor struct {
	*intime.Channel
	meter  *network.Meter // nil where powers are not asked for
	warmth *stage.Warmth  // nil where the bias does not drift
}

// steps sums up the steps of all channels, nil where there are none.
func (b *branch) steps() *corpus.Steps {
	var sum corpus.Steps
	for _, p := range b.processors {
		t, ok := p.(*timeProcessor)
		if !ok {
			return nil
		}
		dynamic, ok := t.Stage()
		if !ok {
			return nil
		}
		s := dynamic.Steps()
		sum.Taken += s.Taken
		sum.Split += s.Refined
		sum.Retried += s.Retried
	}
	return &sum
}
