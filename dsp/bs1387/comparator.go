package bs1387

import (
	"fmt"
	"math"

	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
)

// A comparison: both signals are framed and heard, the judge compares what was heard
// frame by frame and keeps the averages. A reference that many tests are held
// against is heard once and kept.

// Comparator compares a test signal with its reference while they stream by.
// Its memory does not grow with the length of the signals.
type Comparator struct {
	ref, test           *listener
	heardRef, heardTest []sensation
	judge               *judge
}

// NewComparator returns a comparator, or an error if the configuration is
// outside its legal ranges.
func NewComparator(c Config) (*Comparator, error) {
	c, err := c.checked()
	if err != nil {
		return nil, err
	}
	a := newAnalyser(c.PlaybackSPL)
	return &Comparator{
		ref:       newListener(c, a),
		test:      newListener(c, a),
		heardRef:  make([]sensation, c.Channels),
		heardTest: make([]sensation, c.Channels),
		judge:     newJudge(c),
	}, nil
}

// Add compares the next block. Both signals must be aligned in time, matched in
// level and finite; each is indexed [channel][frame] with the configured number
// of channels and any common number of frames, else Add panics.
func (c *Comparator) Add(ref, test [][]float64) {
	mustMatch("reference", ref, len(c.heardRef), ref)
	mustMatch("test", test, len(c.heardRef), ref)
	for offset := 0; offset < len(ref[0]); {
		n := c.ref.framer.take(ref, offset)
		c.test.framer.take(test, offset)
		offset += n
		if c.ref.framer.full() {
			c.ref.hear(c.heardRef)
			c.test.hear(c.heardTest)
			c.judge.add(c.heardRef, c.heardTest)
		}
	}
}

// Result returns the variables of what has been added so far. More may be added
// afterwards.
func (c *Comparator) Result() Result { return c.judge.result() }

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
// and channel, 34 MB for a minute of one channel, and is meant for excerpts.
// It is read-only and may be used by many goroutines at once.
type Reference struct {
	config Config
	length int
	frames [][]sensation // [frame][channel]
}

// NewReference hears a whole reference, indexed [channel][frame]. It returns an
// error if the configuration is outside its legal ranges and panics unless
// signal has the configured number of equally long channels.
func NewReference(c Config, signal [][]float64) (*Reference, error) {
	c, err := c.checked()
	if err != nil {
		return nil, err
	}
	mustMatch("reference", signal, c.Channels, signal)
	r := &Reference{config: c, length: len(signal[0])}
	r.frames = make([][]sensation, 0, max(0, (r.length-hop)/hop))
	l := newListener(c, newAnalyser(c.PlaybackSPL))
	for offset := 0; offset < r.length; {
		offset += l.framer.take(signal, offset)
		if l.framer.full() {
			heard := make([]sensation, c.Channels)
			l.hear(heard)
			r.frames = append(r.frames, heard)
		}
	}
	return r, nil
}

// Compare returns what a [Comparator] would for this reference and test. It
// panics unless test is as long as the reference in as many channels.
func (r *Reference) Compare(test [][]float64) Result {
	mustMatch("test", test, r.config.Channels, test)
	if len(test[0]) != r.length {
		panic("bs1387: the test is not as long as the reference")
	}
	l := newListener(r.config, newAnalyser(r.config.PlaybackSPL))
	heard := make([]sensation, r.config.Channels)
	j := newJudge(r.config)
	offset := 0
	for _, reference := range r.frames {
		for !l.framer.full() {
			offset += l.framer.take(test, offset)
		}
		l.hear(heard)
		j.add(reference, heard)
	}
	return j.result()
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
