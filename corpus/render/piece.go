package render

import (
	"context"
	"errors"
	"slices"
	"sync"

	"quietcross/dsp/level"
	"quietcross/dsp/wave"
	"quietcross/stage"
)

// A Piece is audio on a bench at one level, for renderings at many settings: what they
// have in common, the reference, is rendered once, and so is the oversampled signal while
// the bench keeps it. It is safe for concurrent use.
type Piece struct {
	bench *Bench
	audio [][]float64
	rate  int
	level level.DB

	mu        sync.Mutex
	reference [][]float64 // output of the reference's processors, V; nil until rendered
}

// Piece returns planar audio at rate Hz, played at level l re the drive. The audio must
// not change afterwards.
func (b *Bench) Piece(audio [][]float64, rate int, l level.DB) *Piece {
	return &Piece{bench: b, audio: audio, rate: rate, level: l}
}

// Reference returns the piece through the ideal stage, planar, as every clip of it has it.
func (p *Piece) Reference(ctx context.Context) ([][]float64, error) {
	_, reference, err := p.pass(ctx, func(wave.Format) ([]*branch, error) { return nil, nil })
	return reference, err
}

// Render passes the piece through the stage at a setting.
func (p *Piece) Render(ctx context.Context, setting stage.Setting) (*Clip, error) {
	b := p.bench
	s, err := b.solved(setting)
	if err != nil {
		return nil, err
	}
	var output *memoryKeep
	through, reference, err := p.pass(ctx, func(format wave.Format) ([]*branch, error) {
		output = p.memory()
		rung, err := b.branch(format, output, func() (processor, error) { return b.way.processor(&s.rung, p.rate) })
		return []*branch{rung}, err
	})
	if err != nil {
		return nil, err
	}
	return b.clip(through, &s.rung, reference, output.audio), nil
}

// memory keeps as many frames as the piece has.
func (p *Piece) memory() *memoryKeep { return &memoryKeep{frames: len(p.audio[0])} }

// pass sends the piece through the ideal stage and through rungs, and returns the pass and
// what came out of the ideal stage.
func (p *Piece) pass(ctx context.Context, rungs func(wave.Format) ([]*branch, error)) (*pass, [][]float64, error) {
	if len(p.audio) == 0 || len(p.audio[0]) == 0 {
		return nil, nil, errors.New("render: no audio")
	}
	b := p.bench
	format := wave.Format{Rate: p.rate, Channels: len(p.audio)}
	reference := p.memory()
	var ups []*upRecorder
	through := &pass{
		stream:     &memory{audio: p.audio, format: format},
		scale:      level.NewScale(b.solving.ladder.Drive()).At(p.level),
		way:        b.way,
		source:     p.sources(&ups),
		oversample: b.options.Oversample,
		workers:    make(chan struct{}, b.options.Workers),
		advance:    func(int64) {},
	}
	var recorders []*recorder
	var err error
	if through.reference, err = b.branch(format, reference, p.references(&recorders)); err != nil {
		return nil, nil, err
	}
	if through.rungs, err = rungs(format); err != nil {
		return nil, nil, err
	}
	if err := through.run(ctx); err != nil {
		return nil, nil, err
	}
	p.keep(recorders)
	p.keepRaised(ups)
	return through, reference.audio, nil
}

// references returns what makes the reference's processors, one channel after the
// other: such as play it again or, the first time, such as render and record it.
func (p *Piece) references(recorders *[]*recorder) func() (processor, error) {
	p.mu.Lock()
	known := p.reference
	p.mu.Unlock()
	return func() (processor, error) {
		if known != nil {
			next := &replay{known[0]}
			known = known[1:]
			return next, nil
		}
		through, err := p.bench.way.reference(p.rate, p.level)
		if err != nil {
			return nil, err
		}
		r := &recorder{processor: through, out: make([]float64, 0, len(p.audio[0])+p.bench.way.latency())}
		*recorders = append(*recorders, r)
		return r, nil
	}
}

// sources returns what makes the ways up, one channel after the other: such as play the
// oversampled signal again or, where it is not kept, such as make it and, of a piece that is
// rendered again and not too long, record it.
func (p *Piece) sources(recorders *[]*upRecorder) func() upsampler {
	known := p.bench.raised.of(p)
	size := (len(p.audio[0]) + p.bench.way.latency()) * p.bench.options.Oversample
	p.mu.Lock()
	keep := p.reference != nil && p.bench.raised.fits(size*len(p.audio))
	p.mu.Unlock()
	return func() upsampler {
		switch {
		case known != nil:
			next := &upReplay{known[0]}
			known = known[1:]
			return next
		case !keep:
			return p.bench.way.source()
		}
		r := &upRecorder{upsampler: p.bench.way.source(), out: make([]float64, 0, size)}
		*recorders = append(*recorders, r)
		return r
	}
}

// keepRaised keeps an oversampled signal that was recorded whole.
func (p *Piece) keepRaised(recorders []*upRecorder) {
	if len(recorders) == 0 {
		return
	}
	signal := make([][]float64, len(recorders))
	for i, r := range recorders {
		signal[i] = r.out
	}
	p.bench.raised.keep(p, signal)
}

// keep keeps a reference that was recorded whole.
func (p *Piece) keep(recorders []*recorder) {
	if len(recorders) == 0 {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.reference = make([][]float64, len(recorders))
	for i, r := range recorders {
		p.reference[i] = slices.Clip(r.out)
	}
}

// recorder is a processor whose output is kept.
type recorder struct {
	processor
	out []float64
}

func (r *recorder) Process(dst, high []float64) error {
	err := r.processor.Process(dst, high)
	r.out = append(r.out, dst...)
	return err
}

// replay is a processor that plays what was recorded of another on the same input.
type replay struct{ left []float64 }

func (r *replay) Process(dst, _ []float64) error {
	r.left = r.left[copy(dst, r.left):]
	return nil
}
