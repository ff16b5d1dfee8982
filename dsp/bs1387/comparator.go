package bs1387

import (
	"fmt"
	"math"

	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
)

// A comparison: both signals are framed and heard, the judge compares what was heard
// frame by frame and keeps the averages. A reference is heard once for any number of
// tests: stretch by stretch as it streams by beside them, or whole, and kept.

// Programme hears a reference as it streams by, once for any number of tests. Not safe
// for concurrent use.
type Programme struct {
	listener *listener
	channels int
}

// NewProgramme returns a programme at its first sample, or an error if the configuration
// is outside its legal ranges.
func NewProgramme(c Config) (*Programme, error) {
	c, err := c.checked()
	if err != nil {
		return nil, err
	}
	return &Programme{newListener(c), c.Channels}, nil
}

// Heard is a stretch of a programme as it was heard, 12 kB a frame and channel. Between
// two calls of [Programme.Hear] it is read-only and may be used by many goroutines at
// once. Its zero value is ready for use.
type Heard struct {
	length int           // samples
	frames [][]sensation // [frame][channel] that ended in it; what lies beyond has room for more
}

// Hear hears the next block, indexed [channel][frame], and writes to h what was heard, in
// place of what h held. It panics unless the block has the configured number of equally
// long channels.
func (p *Programme) Hear(h *Heard, block [][]float64) {
	mustMatch("reference", block, p.channels, block)
	h.length, h.frames = len(block[0]), h.frames[:0]
	p.listener.each(block, func() { p.listener.hear(h.next(p.channels)) })
}

// next returns the room of one more frame.
func (h *Heard) next(channels int) []sensation {
	n := len(h.frames)
	if n < cap(h.frames) {
		if h.frames = h.frames[:n+1]; h.frames[n] != nil {
			return h.frames[n]
		}
	} else {
		h.frames = append(h.frames, nil)
	}
	h.frames[n] = make([]sensation, channels)
	return h.frames[n]
}

// Tester compares a test with what was heard of its reference. Not safe for concurrent
// use.
type Tester struct {
	listener *listener
	heard    []sensation
	judge    *judge
}

// NewTester returns a tester for a programme of the same configuration, or an error if
// that is outside its legal ranges.
func NewTester(c Config) (*Tester, error) {
	c, err := c.checked()
	if err != nil {
		return nil, err
	}
	return newTester(c), nil
}

func newTester(c Config) *Tester {
	return &Tester{newListener(c), make([]sensation, c.Channels), newJudge(c)}
}

// Add compares the next block with the stretch of reference beside it. Both must be
// aligned in time, matched in level and finite. It panics unless the block is as long as
// the stretch, in the configured number of channels.
func (t *Tester) Add(h *Heard, test [][]float64) {
	mustMatch("test", test, len(t.heard), test)
	if len(test[0]) != h.length {
		panic("bs1387: the test is not as long as the reference")
	}
	n := 0
	t.listener.each(test, func() {
		t.listener.hear(t.heard)
		t.judge.add(h.frames[n], t.heard)
		n++
	})
}

// Result returns the variables of what has been added so far. More may be added
// afterwards.
func (t *Tester) Result() Result { return t.judge.result() }

// Comparator compares a test signal with its reference while they stream by.
// Its memory does not grow with the length of the signals.
type Comparator struct {
	programme         *Programme
	heard             Heard
	tester            *Tester
	refPart, testPart [][]float64
}

// NewComparator returns a comparator, or an error if the configuration is
// outside its legal ranges.
func NewComparator(c Config) (*Comparator, error) {
	p, err := NewProgramme(c)
	if err != nil {
		return nil, err
	}
	t, err := NewTester(c)
	return &Comparator{programme: p, tester: t}, err
}

// Add compares the next block. Both signals must be aligned in time, matched in
// level and finite; each is indexed [channel][frame] with the configured number
// of channels and any common number of frames, else Add panics.
func (c *Comparator) Add(ref, test [][]float64) {
	mustMatch("reference", ref, c.programme.channels, ref)
	mustMatch("test", test, c.programme.channels, ref)
	for from, n := 0, len(ref[0]); from < n; {
		to := min(from+hop, n)
		c.refPart, c.testPart = c.refPart[:0], c.testPart[:0]
		for i := range ref {
			c.refPart, c.testPart = append(c.refPart, ref[i][from:to]), append(c.testPart, test[i][from:to])
		}
		c.programme.Hear(&c.heard, c.refPart)
		c.tester.Add(&c.heard, c.testPart)
		from = to
	}
}

// Result returns the variables of what has been added so far. More may be added
// afterwards.
func (c *Comparator) Result() Result { return c.tester.Result() }

// judge compares sensations frame by frame and keeps the averages.
type judge struct {
	config   Config
	workshop workshop
	channels []channel
	detector detector
	frames   int
	loudFrom int // the first frame whose noise loudness counts
}

func newJudge(c Config) *judge {
	return &judge{
		config:   c,
		workshop: workshop{model: standard(), harmonics: newHarmonics()},
		channels: make([]channel, c.Channels),
		loudFrom: math.MaxInt,
	}
}

// add compares the next frame of every channel.
func (j *judge) add(ref, test []sensation) {
	j.listenForLoudness(ref, test)
	var doubt, steps pattern
	for c := range j.channels {
		j.channels[c].compare(&j.workshop, j.frames, j.loudFrom, &ref[c], &test[c])
		detect(&doubt, &steps, &ref[c], &test[c])
	}
	j.detector.add(binaural(&doubt, &steps))
	j.frames++
}

// listenForLoudness starts the average of noise loudness a little after both
// signals are first loud in any channel.
func (j *judge) listenForLoudness(ref, test []sensation) {
	for c := range ref {
		if j.loudFrom == math.MaxInt && j.loud(&ref[c]) && j.loud(&test[c]) {
			j.loudFrom = j.frames + framesToLoud
		}
	}
}

func (j *judge) loud(s *sensation) bool {
	return j.workshop.model.loudness.total(&s.excitation) > loudEnough
}

// result gathers the averages.
func (j *judge) result() Result {
	r := Result{
		PlaybackSPL:    j.config.PlaybackSPL,
		Frames:         j.frames,
		Detection:      j.detector.maximum,
		DistortedBlock: j.detector.averageBlock(),
	}
	for c := range j.channels {
		r.add(&j.channels[c].tally, len(j.channels))
	}
	return r
}

// Reference is a reference signal already heard, to be compared with many tests:
// half of the work of a [Comparator], done once. It keeps about 12 kB a frame
// and channel, 34 MB for a minute of one channel, and is meant for excerpts; a
// [Programme] hears longer ones. It is read-only and may be used by many goroutines at
// once.
type Reference struct {
	config Config
	whole  Heard
}

// NewReference hears a whole reference, indexed [channel][frame]. It returns an
// error if the configuration is outside its legal ranges and panics unless
// signal has the configured number of equally long channels.
func NewReference(c Config, signal [][]float64) (*Reference, error) {
	c, err := c.checked()
	if err != nil {
		return nil, err
	}
	r := &Reference{config: c}
	(&Programme{newListener(c), c.Channels}).Hear(&r.whole, signal)
	return r, nil
}

// Compare returns what a [Comparator] would for this reference and test. It
// panics unless test is as long as the reference in as many channels.
func (r *Reference) Compare(test [][]float64) Result {
	t := newTester(r.config)
	t.Add(&r.whole, test)
	return t.Result()
}

// Config says what is compared and how loudly it is played.
type Config struct {
	// Rate is the sampling rate in hertz and must be 48000; convert others
	// before.
	Rate float64
	// PlaybackSPL is the level of a full-scale sine at the listener in dB SPL,
	// 20 to 110; 0 stands for [hearing.DefaultSPL]. See
	// [hearing.SPL].
	//
	// Caution: daily exposure above about 85 dB SPL damages hearing.
	PlaybackSPL level.DB
	// Channels is 1 or 2.
	Channels int
}

// checked returns the configuration with its default filled in, or an error
// that names what is wrong.
func (c Config) checked() (Config, error) {
	if c.Rate != Rate {
		return c, fmt.Errorf("bs1387: rate %g Hz: the ear model needs %d Hz", c.Rate, Rate)
	}
	if c.Channels != 1 && c.Channels != 2 {
		return c, fmt.Errorf("bs1387: %d channels: the ear model takes 1 or 2", c.Channels)
	}
	if c.PlaybackSPL == 0 {
		c.PlaybackSPL = hearing.DefaultSPL
	}
	if err := hearing.CheckSPL(c.PlaybackSPL); err != nil {
		return c, fmt.Errorf("bs1387: %w", err)
	}
	return c, nil
}
