package render

import (
	"errors"
	"fmt"

	"gonum.org/v1/gonum/floats"

	"quietcross/corpus"
	"quietcross/dsp/level"
	"quietcross/dsp/resample"
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
	// StaticOversample keeps the aliases of a full-scale 10 kHz tone through an
	// unbiased pair more than 120 dB below it.
	StaticOversample = 8
	// DynamicOversample keeps the dynamic solver within -110 dB of the static one at
	// 1 kHz, and of the circuit's own equations.
	DynamicOversample = 16
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
	ideal, gain, err := linearStage(st)
	return dynamicWay{oversample: o.Oversample, ideal: ideal, gain: gain}, err
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

// dynamicWay goes through the circuit in time. Its ideal stage is the circuit
// itself where it is most linear, so that what coupling capacitors, transformers
// and loudspeakers do to the frequency response is in the reference too, and what
// is left over is distortion.
type dynamicWay struct {
	oversample int
	ideal      *stage.Biased
	gain       float64 // of the ideal stage at midband, V/V
}

func (w dynamicWay) source() upsampler { return resample.NewUp(w.oversample) }

func (w dynamicWay) reference(rate int, l level.DB) (processor, error) {
	dynamic, err := w.ideal.Dynamic(float64(rate * w.oversample))
	if err != nil {
		return nil, err
	}
	return newTimeProcessor(w.oversample, smallSignal{dynamic, smallness / l.Amplitude(), w.gain, w.ideal.Point().Output}, 0), nil
}

// linearStage biases a stage where it is most linear: at the optimum, or at the
// top of its ladder where its circuit has no optimum. It returns the midband
// gain there too.
func linearStage(st *stage.Stage) (*stage.Biased, float64, error) {
	setting := stage.Quiescent(st.OptimumQuiescent())
	if st.OptimumQuiescent() == 0 {
		ladder, err := st.DefaultLadder()
		if err != nil {
			return nil, 0, err
		}
		setting = ladder[len(ladder)-1]
	}
	biased, err := st.Set(setting)
	if err != nil {
		return nil, 0, err
	}
	_, gain, err := biased.Transfer(0)
	return biased, gain, err
}

// A mover moves a stage through oversampled input volts.
type mover interface {
	Process(dst, src []float64) error
}

// smallSignal is a dynamic stage at a level so low that it is linear, at unity
// midband gain.
type smallSignal struct {
	*stage.Dynamic
	down float64 // what the input is multiplied by
	gain float64 // V/V
	rest float64 // output with no signal, V
}

// smallness is full scale of a small signal re the drive: there a residual of
// second order that is -48 dB at full drive has fallen under -140 dB, and the
// solver's rounding still lies as far below.
const smallness = 1e-5

func (s smallSignal) Process(dst, src []float64) error {
	floats.ScaleTo(dst, s.down, src)
	if err := s.Dynamic.Process(dst, dst); err != nil {
		return err
	}
	floats.AddConst(-s.rest, dst)
	floats.Scale(1/(s.down*s.gain), dst)
	return nil
}

func (w dynamicWay) processor(r *rung, rate int) (processor, error) {
	biased := r.Biased()
	if r.settled != nil {
		biased = r.settled.Biased
	}
	dynamic, err := biased.Dynamic(float64(rate * w.oversample))
	if err != nil {
		return nil, err
	}
	p := newTimeProcessor(w.oversample, dynamic, biased.Point().Output)
	if r.settled != nil {
		p.warmth = dynamic.FollowHeat(r.settled.Temperatures, r.settled.Sink)
	}
	return p, nil
}

func (w dynamicWay) latency() int {
	high := resample.NewUp(w.oversample).Latency() + stage.Latency + newDescent(w.oversample).Latency()
	return high / w.oversample
}

// newDescent returns the way down from a stage in time.
func newDescent(oversample int) *shape.Descent {
	return shape.NewDescent(oversample, stage.Latency, blockFrames)
}

// timeProcessor moves a stage through the oversampled input.
type timeProcessor struct {
	stage   mover
	rest    float64        // output with no signal, V
	meter   *network.Meter // nil where powers are not asked for
	warmth  *stage.Warmth  // nil where the bias does not drift
	descent *shape.Descent
}

func newTimeProcessor(oversample int, through mover, rest float64) *timeProcessor {
	return &timeProcessor{stage: through, rest: rest, descent: newDescent(oversample)}
}

func (p *timeProcessor) Process(dst, high []float64) error {
	inlet := p.descent.Inlet(len(dst))
	if err := p.stage.Process(inlet, high); err != nil {
		return err
	}
	floats.AddConst(-p.rest, inlet)
	p.descent.Process(dst)
	floats.AddConst(p.rest, dst)
	return nil
}

// steps sums up the steps of all channels, nil where there are none.
func (b *branch) steps() *corpus.Steps {
	var sum corpus.Steps
	for _, p := range b.processors {
		t, ok := p.(*timeProcessor)
		if !ok {
			return nil
		}
		dynamic, ok := t.stage.(*stage.Dynamic)
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
