package render

import (
	"context"
	"errors"
	"io"
	"sync/atomic"

	"golang.org/x/sync/errgroup"

	"quietcross/corpus/bias"
	"quietcross/dsp/intake"
	"quietcross/dsp/level"
	"quietcross/dsp/planar"
)

// blockFrames is the number of base-rate frames that travel together. The
// oversampled block of one channel stays within a processor's second-level
// cache.
const blockFrames = 2048

// blocksInFlight bounds the memory of a pass: the source waits when the
// slowest branch is this many blocks behind.
const blocksInFlight = 4

// A block is one stretch of the source at the oversampled rate, shared
// read-only by all branches.
type block struct {
	high  [][]float64 // [channel][frame·oversample], stage input, V
	ref   [][]float64 // [channel][frame], full scale
	skip  int         // leading frames that are the route's latency
	users atomic.Int32
}

func newBlock(channels, oversample int) *block {
	return &block{
		high: planar.New(channels, blockFrames*oversample),
		ref:  planar.New(channels, blockFrames),
	}
}

// A pass sends one source at one level through every rung at once: one reader
// and upsampler, one goroutine a rung.
type pass struct {
	stream     intake.Stream
	scale      level.Scale // of the drive at the item's level
	way        way
	source     func() upsampler // the way up of one channel after the other
	oversample int
	lo, hi     float64         // the range over which the laws were solved, V; both 0 where nobody asks what lies beyond
	inputs     *bias.Histogram // of the stage's input, nil where powers are not asked for
	reference  *branch
	rungs      []*branch
	workers    chan struct{} // holds one token for each that may work
	advance    func(frames int64)

	outOfRange int64
}

// run processes the whole stream. On return every branch has its statistics
// and what it keeps.
func (p *pass) run(ctx context.Context) error {
	group, ctx := errgroup.WithContext(ctx)
	free := make(chan *block, blocksInFlight)
	for range blocksInFlight {
		free <- newBlock(p.stream.Format().Channels, p.oversample)
	}
	inputs := make([]chan *block, len(p.rungs))
	for i, b := range p.rungs {
		inputs[i] = make(chan *block, blocksInFlight)
		group.Go(func() error { return p.serve(ctx, b, inputs[i], free) })
	}
	group.Go(func() error {
		defer func() {
			for _, input := range inputs {
				close(input)
			}
		}()
		return p.feed(ctx, inputs, free)
	})
	if err := group.Wait(); err != nil {
		return err
	}
	return p.flush()
}

// branches returns the reference and the rungs as far as they were made.
func (p *pass) branches() []*branch {
	if p.reference == nil {
		return nil
	}
	return append([]*branch{p.reference}, p.rungs...)
}

// flush makes what the branches keep readable.
func (p *pass) flush() error {
	for _, b := range p.branches() {
		if err := b.kept.flush(); err != nil {
			return err
		}
	}
	return nil
}

// serve runs one rung's branch over the blocks as they come.
func (p *pass) serve(ctx context.Context, b *branch, input <-chan *block, free chan<- *block) error {
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case blk, ok := <-input:
			if !ok {
				return nil
			}
			if err := p.work(func() error { return b.process(blk) }); err != nil {
				return err
			}
			if blk.users.Add(-1) == 0 {
				free <- blk
			}
		}
	}
}

// work runs f while it holds a worker's token.
func (p *pass) work(f func() error) error {
	p.workers <- struct{}{}
	defer func() { <-p.workers }()
	return f()
}

// feed reads, scales and upsamples the source and hands out the blocks, then
// as many frames of silence as the route's latency takes to come out.
func (p *pass) feed(ctx context.Context, inputs []chan *block, free chan *block) error {
	src := newFeeder(p)
	for {
		var blk *block
		select {
		case <-ctx.Done():
			return ctx.Err()
		case blk = <-free:
		}
		var n int
		err := p.work(func() (err error) {
			n, err = src.fill(blk)
			return err
		})
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		p.advance(int64(n))
		if len(inputs) == 0 { // the reference alone was asked for
			free <- blk
			continue
		}
		blk.users.Store(int32(len(inputs)))
		for _, input := range inputs {
			input <- blk
		}
	}
}

// A feeder fills blocks from the stream.
type feeder struct {
	pass    *pass
	sources []upsampler
	input   [][]float64
	skip    int // latency frames still to be dropped
	tail    int // frames of silence still to be fed
	inTail  bool
}

func newFeeder(p *pass) *feeder {
	channels := p.stream.Format().Channels
	f := &feeder{
		pass:    p,
		sources: make([]upsampler, channels),
		input:   planar.New(channels, blockFrames),
		skip:    p.way.latency(),
		tail:    p.way.latency(),
	}
	for c := range f.sources {
		f.sources[c] = p.source()
	}
	return f
}

// fill reads up to a block of frames, upsamples them and runs the reference.
// It returns io.EOF when stream and tail are exhausted.
func (f *feeder) fill(blk *block) (int, error) {
	n, err := f.read()
	if err != nil {
		return 0, err
	}
	for c, source := range f.sources {
		x := f.input[c][:n]
		f.pass.scale.ToVolts(x, x)
		if f.pass.inputs != nil && !f.inTail {
			f.pass.inputs.Add(x)
		}
		blk.high[c] = blk.high[c][:n*f.pass.oversample]
		blk.ref[c] = blk.ref[c][:n]
		source.Process(blk.high[c], x)
		if f.pass.lo < f.pass.hi {
			f.pass.outOfRange += f.pass.beyond(blk.high[c])
		}
	}
	blk.skip = min(f.skip, n)
	f.skip -= blk.skip
	return n, f.pass.reference.reference(blk)
}

// read fills f.input from the stream, or with the tail of silence.
func (f *feeder) read() (int, error) {
	n, err := f.pass.stream.Read(f.input)
	if n > 0 && (err == nil || errors.Is(err, io.EOF)) {
		return n, nil
	}
	if !errors.Is(err, io.EOF) {
		return 0, err
	}
	if f.tail == 0 {
		return 0, io.EOF
	}
	n = min(f.tail, blockFrames)
	f.tail -= n
	f.inTail = true
	for _, channel := range f.input {
		clear(channel[:n])
	}
	return n, nil
}

// beyond counts the stage inputs outside the solved range.
func (p *pass) beyond(high []float64) (count int64) {
	for _, v := range high {
		if v < p.lo || v > p.hi {
			count++
		}
	}
	return count
}

// close gives up what all branches keep; it is safe after any error.
func (p *pass) close() error {
	var errs []error
	for _, b := range p.branches() {
		errs = append(errs, b.close())
	}
	return errors.Join(errs...)
}
