package render

import (
	"context"
	"sync"

	"gonum.org/v1/gonum/floats"

	"quietcross/corpus/bias"
	"quietcross/dsp/level"
	"quietcross/dsp/planar"
	"quietcross/dsp/wave"
	"quietcross/stage"
)

// A Bench renders short pieces in memory through one stage at any bias: for
// searches and listening tests that render the same material many times. It
// keeps every law that it has solved and is safe for concurrent use.
type Bench struct {
	options Options
	solving solving
	way     way
	raised  *raised

	mu    sync.Mutex
	rungs map[stage.Setting]*benchRung
}

// A benchRung is a rung, solved by the first goroutine that asks.
type benchRung struct {
	once sync.Once
	rung rung
	err  error
}

// NewBench returns a bench for the options' stage, drive, levels (the maximum
// bounds what may be rendered), matching and oversampling.
func NewBench(o Options) (*Bench, error) {
	o = o.withDefaults()
	st, err := stage.New(o.Spec)
	if err != nil {
		return nil, err
	}
	ladder, err := o.ladder(st)
	if err != nil {
		return nil, err
	}
	o.chooseSolver(st)
	through, err := newWay(st, o)
	if err != nil {
		return nil, err
	}
	return &Bench{
		options: o,
		solving: solving{ladder: ladder, solver: o.Solver, hi: lawHeadroom * ladder.Drive() * maximum(o.Levels), tolerance: bias.FigureTolerance, drift: o.Drift},
		way:     through,
		raised:  newRaised(o.Workers),
		rungs:   map[stage.Setting]*benchRung{},
	}, nil
}

// Ladder returns the evaluations of the stage that the bench renders through.
func (b *Bench) Ladder() *bias.Ladder { return b.solving.ladder }

// solved returns the solved rung of a setting.
func (b *Bench) solved(setting stage.Setting) (*benchRung, error) {
	b.mu.Lock()
	s, ok := b.rungs[setting]
	if !ok {
		s = &benchRung{}
		b.rungs[setting] = s
	}
	b.mu.Unlock()
	s.once.Do(func() { s.rung, s.err = b.solving.rung(setting) })
	return s, s.err
}

// A Clip is a rendering held in memory, aligned to its reference to the sample.
type Clip struct {
	// Reference and Output are planar; Output is level-matched.
	Reference, Output [][]float64
	// Rung is the bias setting and what it gives.
	Rung bias.Rung
	// Gain is the gain that fits the stage's output to the reference best,
	// before matching (V/V); Applied is the matching gain.
	Gain    float64
	Applied level.DB
	// Residual is the level of Output less the fitted reference, re that.
	Residual level.DB
	// Warning tells that matching could not be done as asked; "" if it could.
	Warning string
}

// Render passes planar audio at rate Hz, played at level l re the drive, through
// the stage at a setting. For more than one setting take a [Bench.Piece].
func (b *Bench) Render(ctx context.Context, audio [][]float64, rate int, l level.DB, setting stage.Setting) (*Clip, error) {
	return b.Piece(audio, rate, l).Render(ctx, setting)
}

func (b *Bench) branch(format wave.Format, k keeper, one func() (processor, error)) (*branch, error) {
	processors, err := perChannel(format.Channels, one)
	if err != nil {
		return nil, err
	}
	var meter *level.Loudness
	if b.options.Match == MatchLoudness {
		meter = level.NewLoudness(float64(format.Rate), format.Channels)
	}
	return newBranch(processors, level.NewScale(b.solving.ladder.Drive()), meter, k), nil
}

// clip matches the output of a pass and measures what is left.
func (b *Bench) clip(p *pass, r *rung, reference, output [][]float64) *Clip {
	out := p.rungs[0]
	c := &Clip{Reference: reference, Output: output, Rung: r.record(), Gain: out.fit.gain()}
	c.Applied, c.Warning = matchGain(b.options.Match, out, p.reference)
	rest := restOf(output, reference, c.Gain)
	var fitted stats
	fitted.add(reference)
	c.Residual = residualLevel(&rest, &fitted, c.Gain)
	scale(output, matchFactor(b.options.Match, c.Gain, c.Applied))
	return c
}

// restOf measures an output less its reference times a gain, block by block.
func restOf(output, reference [][]float64, gain float64) (rest stats) {
	block := planar.New(len(output), min(blockFrames, len(output[0])))
	for at, frames := 0, len(output[0]); at < frames; at += blockFrames {
		end := min(at+blockFrames, frames)
		for ch := range block {
			block[ch] = block[ch][:end-at]
			copy(block[ch], output[ch][at:end])
			floats.AddScaled(block[ch], -gain, reference[ch][at:end])
		}
		rest.add(block)
	}
	return rest
}
