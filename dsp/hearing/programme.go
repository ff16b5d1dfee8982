package hearing

// A reference that streams by beside its tests, in bounded memory: what is heard of a
// stretch of it is kept while every test goes through the same stretch, so that its
// excitation, its masking and the filters it sets are worked out once, however many tests
// there are. Stretch and test may be cut anywhere, as long as both are cut alike.

// Programme hears a reference as it streams by, once for any number of tests. Not safe
// for concurrent use.
type Programme struct {
	config   Config
	tables   *tables
	feeder   *feeder
	analyser *analyser
	maskers  []*masker
	cells    *cells
}

// NewProgramme returns a programme at its first sample, or an error if the
// configuration is outside its legal ranges.
func NewProgramme(c Config) (*Programme, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	return newProgramme(tablesFor(standard, c.Rate), c), nil
}

func newProgramme(t *tables, c Config) *Programme {
	p := &Programme{config: c, tables: t, feeder: newFeeder(t, c.Channels), analyser: newAnalyser(t, c.PlaybackSPL), cells: new(cells)}
	for range c.Channels {
		p.maskers = append(p.maskers, newMasker(t, c.RoomNR))
	}
	return p
}

// Heard is what a stretch of a programme leaves of a listener's sensitivity, 10 kB a
// step of 10.7 ms and channel. Between two calls of [Programme.Hear] it is read-only and
// may be used by many goroutines at once. Its zero value is ready for use.
type Heard struct {
	frames int         // of the stretch
	steps  [][]*ground // [step][channel] that ended in it; what lies beyond has room for more
}

// Hear hears the next block, indexed [channel][frame], and writes to h what it leaves, in
// place of what h held. It panics unless the block has the configured number of equally
// long channels.
func (p *Programme) Hear(h *Heard, block [][]float64) {
	mustMatch("reference", block, p.config.Channels, block)
	h.frames, h.steps = len(block[0]), h.steps[:0]
	p.feeder.each(block, func() { p.step(h.next(p)) })
}

// End hears the silence after the last block, until nothing of that is left.
func (p *Programme) End(h *Heard) {
	h.frames, h.steps = 0, h.steps[:0]
	p.feeder.each(p.feeder.silence(), func() { p.step(h.next(p)) })
}

func (p *Programme) step(grounds []*ground) {
	for c, m := range p.maskers {
		m.hear(grounds[c], p.analyser, p.cells, p.feeder.buffers[c])
	}
}

// next returns the grounds of one more step.
func (h *Heard) next(p *Programme) []*ground {
	n := len(h.steps)
	if n < cap(h.steps) {
		if h.steps = h.steps[:n+1]; h.steps[n] != nil {
			return h.steps[n]
		}
	} else {
		h.steps = append(h.steps, nil)
	}
	step := make([]*ground, len(p.maskers))
	for c, m := range p.maskers {
		step[c] = m.newGround()
	}
	h.steps[n] = step
	return step
}

// Tester compares a test with what was heard of its reference. Not safe for concurrent
// use.
type Tester struct {
	config   Config
	feeder   *feeder
	analyser *analyser
	cells    *cells
	judge    *judge
	samples  int
}

// NewTester returns a tester for a programme of the same configuration, or an error if
// that is outside its legal ranges.
func NewTester(c Config) (*Tester, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	return newTester(tablesFor(standard, c.Rate), c), nil
}

func newTester(t *tables, c Config) *Tester {
	return &Tester{
		config: c, feeder: newFeeder(t, c.Channels), analyser: newAnalyser(t, c.PlaybackSPL),
		cells: new(cells), judge: newJudge(t, c),
	}
}

// Compare compares the next block with the stretch of reference beside it. Both must be
// aligned in time and matched in level. It panics unless the block is as long as the
// stretch, in the configured number of channels.
func (t *Tester) Compare(h *Heard, test [][]float64) {
	mustMatch("test", test, t.config.Channels, test)
	if len(test[0]) != h.frames {
		panic("hearing: the test is not as long as the reference")
	}
	t.samples += h.frames
	t.hear(h, test)
}

// Result hears the test to its end, beside the end of its programme, and returns what was
// found. Nothing must be compared afterwards.
func (t *Tester) Result(end *Heard) Result {
	t.hear(end, t.feeder.silence())
	return t.judge.result(t.samples)
}

// hear judges each step that ends in a block.
func (t *Tester) hear(h *Heard, block [][]float64) {
	n := 0
	t.feeder.each(block, func() {
		for c, g := range h.steps[n] {
			t.analyser.analyse(t.cells, t.feeder.buffers[c])
			t.judge.hear(c, g, t.cells)
		}
		t.judge.decide(h.steps[n])
		n++
	})
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

// each feeds a block and calls step at each that is complete.
func (f *feeder) each(block [][]float64, step func()) {
	for offset := 0; offset < len(block[0]); {
		offset += f.take(block, offset)
		if f.full() {
			step()
		}
	}
}

// silence returns as much of it as takes the last sample out of every window's middle.
func (f *feeder) silence() [][]float64 {
	silence := make([][]float64, len(f.buffers))
	for c := range silence {
		silence[c] = make([]float64, len(f.tables.levels[0].window)/2+f.tables.step)
	}
	return silence
}
