package hearing

import (
	"fmt"
	"math"

	"quietcross/dsp/level"
)

// Ears says how channels are heard together.
type Ears uint8

// Ways to hear two channels, one at each ear.
const (
	// BetterEar takes in each band and moment the ear with more evidence.
	BetterEar Ears = iota
	// Combined adds the evidence of both ears, as if they were independent looks.
	Combined
)

// Config says what is compared, how loudly it is played, and who listens.
type Config struct {
	// Rate is the sampling rate in hertz, 32000 to 384000.
	Rate float64
	// Channels is 1, heard by both ears, or 2, one at each.
	Channels int
	// PlaybackSPL is the level of a full-scale sine at the listener in dB SPL, from
	// [MinimumSPL] to [MaximumSPL]. See [SPL] and [DefaultSPL].
	//
	// Caution: daily exposure above about 85 dB SPL damages hearing.
	PlaybackSPL level.DB
	// Efficiency is the listener's free constant: d' is multiplied by
	// 10^(Efficiency/10). A threshold of added energy then lies that many decibels
	// lower. 0 is the listener of the published thresholds; -30 to 30.
	Efficiency level.DB
	// Ears says how two channels are heard together.
	Ears Ears
	// RoomNR is the noise rating of the room, ISO/R 1996, 0 for silence to
	// [MaximumRoomNR]. ITU-R BS.1116 asks listening rooms for 10, at most 15; a quiet
	// living room has 20 to 30 (common practice).
	RoomNR float64
}

// Rates and efficiencies that the model accepts.
const (
	MinimumRate                = 32000.0
	MaximumRate                = 384000.0
	MaximumEfficiency level.DB = 30
)

// check returns an error that names what is wrong.
func (c Config) check() error {
	switch {
	case !(c.Rate >= MinimumRate && c.Rate <= MaximumRate):
		return fmt.Errorf("hearing: rate %g Hz: legal are %g to %g", c.Rate, MinimumRate, MaximumRate)
	case c.Channels != 1 && c.Channels != 2:
		return fmt.Errorf("hearing: %d channels: legal are 1 and 2", c.Channels)
	case c.Ears > Combined:
		return fmt.Errorf("hearing: ears %d: legal are %d and %d", c.Ears, BetterEar, Combined)
	}
	conditions := Conditions{c.PlaybackSPL, c.RoomNR, Efficiency{DB: c.Efficiency}}
	if err := conditions.Check(); err != nil {
		return fmt.Errorf("hearing: %w", err)
	}
	return nil
}

// feeder cuts the channels of one signal into steps. The first window is centred on
// the first sample: silence goes before it.
type feeder struct {
	tables  *tables
	buffers [][]float64
	filled  int // of the coming step
}

func newFeeder(t *tables, channels int) *feeder {
	f := &feeder{tables: t, buffers: make([][]float64, channels)}
	for c := range f.buffers {
		f.buffers[c] = make([]float64, len(t.levels[0].window))
	}
	// All but the second half of the first window is there.
	f.filled = t.step - (len(f.buffers[0]) - len(f.buffers[0])/2)
	return f
}

// take copies samples from frame offset of block on until a step is complete or the
// block used up, and returns how many.
func (f *feeder) take(block [][]float64, offset int) int {
	n := min(f.tables.step-f.filled, len(block[0])-offset)
	for c, x := range block {
		b := f.buffers[c]
		copy(b, b[n:])
		copy(b[len(b)-n:], x[offset:offset+n])
	}
	f.filled += n
	return n
}

// full reports whether a step is complete, and begins the next one.
func (f *feeder) full() bool {
	if f.filled < f.tables.step {
		return false
	}
	f.filled = 0
	return true
}

// Comparison compares a test signal with its reference while they stream by. Its
// memory does not grow with their length. Not safe for concurrent use.
type Comparison struct {
	config    Config
	ref, test *feeder
	analyser  *analyser
	maskers   []*masker
	grounds   []*ground
	cells     *cells
	judge     *judge
	samples   int
	finished  *Result
}

// New returns a comparison, or an error if the configuration is outside its legal
// ranges.
func New(c Config) (*Comparison, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	return newComparison(c, standard), nil
}

func newComparison(c Config, k constants) *Comparison {
	t := tablesFor(k, c.Rate)
	p := &Comparison{
		config: c, ref: newFeeder(t, c.Channels), test: newFeeder(t, c.Channels),
		analyser: newAnalyser(t, c.PlaybackSPL), cells: new(cells), judge: newJudge(t, c),
	}
	for range c.Channels {
		m := newMasker(t, c.RoomNR)
		p.maskers = append(p.maskers, m)
		p.grounds = append(p.grounds, m.newGround())
	}
	return p
}

// Process compares the next block. Both signals must be aligned in time and matched
// in level; each is indexed [channel][frame] with the configured number of channels
// and any common number of frames, else Process panics, as it does after
// [Comparison.Result]. How a signal is cut into blocks does not change the result.
func (p *Comparison) Process(ref, test [][]float64) {
	if p.finished != nil {
		panic("hearing: Process after Result")
	}
	mustMatch("reference", ref, p.config.Channels, ref)
	mustMatch("test", test, p.config.Channels, ref)
	p.samples += len(ref[0])
	p.feed(ref, test)
}

func (p *Comparison) feed(ref, test [][]float64) {
	for offset := 0; offset < len(ref[0]); {
		n := p.ref.take(ref, offset)
		p.test.take(test, offset)
		offset += n
		if p.ref.full() && p.test.full() {
			p.step()
		}
	}
}

// step compares one complete step.
func (p *Comparison) step() {
	for c, m := range p.maskers {
		m.hear(p.grounds[c], p.analyser, p.cells, p.ref.buffers[c])
		p.analyser.analyse(p.cells, p.test.buffers[c])
		p.judge.hear(c, p.grounds[c], p.cells)
	}
	p.judge.decide(p.grounds)
}

// Result hears the signals to their end, beyond the last full step, and returns what
// was found. Process must not be called afterwards.
func (p *Comparison) Result() Result {
	if p.finished == nil {
		silence := make([][]float64, p.config.Channels)
		for c := range silence {
			silence[c] = make([]float64, tailLength(p.judge.tables))
		}
		p.feed(silence, silence)
		r := p.judge.result(p.samples)
		p.finished = &r
	}
	return *p.finished
}

// tailLength returns the samples of silence after which the last sample has left
// every window's middle.
func tailLength(t *tables) int { return len(t.levels[0].window)/2 + t.step }

// mustMatch panics unless block holds the given number of channels, all as long as
// the first of like.
func mustMatch(what string, block [][]float64, channels int, like [][]float64) {
	if len(block) != channels {
		panic(fmt.Sprintf("hearing: %s has %d channels, want %d", what, len(block), channels))
	}
	for c, samples := range block {
		if len(samples) != len(like[0]) {
			panic(fmt.Sprintf("hearing: %s channel %d has %d frames, want %d", what, c, len(samples), len(like[0])))
		}
	}
}

// Reference is a reference already heard, to be compared with many tests: its
// excitation, its masking and the filters it sets are worked out once. It takes about
// 10 kB a step of 10.7 ms and channel, 1 MB a second, and is meant for excerpts. It
// is read-only and may be used by many goroutines at once.
type Reference struct {
	config Config
	tables *tables
	length int
	steps  [][]*ground // [step][channel]
}

// NewReference hears a whole reference, indexed [channel][frame]. It returns an
// error if the configuration is outside its legal ranges and panics unless signal
// has the configured number of equally long channels.
func NewReference(c Config, signal [][]float64) (*Reference, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	mustMatch("reference", signal, c.Channels, signal)
	return referenceOf(standard, c, signal), nil
}

func referenceOf(k constants, c Config, signal [][]float64) *Reference {
	t := tablesFor(k, c.Rate)
	r := &Reference{config: c, tables: t, length: len(signal[0])}
	f, a, heard := newFeeder(t, c.Channels), newAnalyser(t, c.PlaybackSPL), new(cells)
	maskers := make([]*masker, c.Channels)
	for i := range maskers {
		maskers[i] = newMasker(t, c.RoomNR)
	}
	f.all(signal, func() {
		step := make([]*ground, c.Channels)
		for i, m := range maskers {
			step[i] = m.newGround()
			m.hear(step[i], a, heard, f.buffers[i])
		}
		r.steps = append(r.steps, step)
	})
	return r
}

// all feeds a whole signal and the silence after it, calling step at each.
func (f *feeder) all(signal [][]float64, step func()) {
	silence := make([][]float64, len(signal))
	for c := range silence {
		silence[c] = make([]float64, tailLength(f.tables))
	}
	for _, block := range [][][]float64{signal, silence} {
		for offset := 0; offset < len(block[0]); {
			offset += f.take(block, offset)
			if f.full() {
				step()
			}
		}
	}
}

// Compare returns what a [Comparison] would for this reference and test. It panics
// unless test is as long as the reference in as many channels.
func (r *Reference) Compare(test [][]float64) Result {
	mustMatch("test", test, r.config.Channels, test)
	if len(test[0]) != r.length {
		panic("hearing: the test is not as long as the reference")
	}
	f, a, heard := newFeeder(r.tables, r.config.Channels), newAnalyser(r.tables, r.config.PlaybackSPL), new(cells)
	j := newJudge(r.tables, r.config)
	n := 0
	f.all(test, func() {
		for c, g := range r.steps[n] {
			a.analyse(heard, f.buffers[c])
			j.hear(c, g, heard)
		}
		j.decide(r.steps[n])
		n++
	})
	return j.result(r.length)
}

// finite reports whether x can stand in a result.
func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
