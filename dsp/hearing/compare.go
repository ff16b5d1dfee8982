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

// Comparison compares a test signal with its reference while they stream by. Its
// memory does not grow with their length. Not safe for concurrent use.
type Comparison struct {
	programme         *Programme
	heard             Heard
	tester            *Tester
	refPart, testPart [][]float64
	finished          *Result
}

// New returns a comparison, or an error if the configuration is outside its legal
// ranges.
func New(c Config) (*Comparison, error) {
	p, err := NewProgramme(c)
	if err != nil {
		return nil, err
	}
	return &Comparison{programme: p, tester: newTester(p.tables, c)}, nil
}

// stretchSteps is how many steps of the reference a comparison hears at a time.
const stretchSteps = 4

// Process compares the next block. Both signals must be aligned in time and matched
// in level; each is indexed [channel][frame] with the configured number of channels
// and any common number of frames, else Process panics, as it does after
// [Comparison.Result]. How a signal is cut into blocks does not change the result.
func (p *Comparison) Process(ref, test [][]float64) {
	if p.finished != nil {
		panic("hearing: Process after Result")
	}
	mustMatch("reference", ref, p.programme.config.Channels, ref)
	mustMatch("test", test, p.programme.config.Channels, ref)
	for from, n := 0, len(ref[0]); from < n; {
		to := min(from+stretchSteps*p.programme.tables.step, n)
		p.refPart, p.testPart = p.refPart[:0], p.testPart[:0]
		for c := range ref {
			p.refPart, p.testPart = append(p.refPart, ref[c][from:to]), append(p.testPart, test[c][from:to])
		}
		p.programme.Hear(&p.heard, p.refPart)
		p.tester.Compare(&p.heard, p.testPart)
		from = to
	}
}

// Result hears the signals to their end, beyond the last full step, and returns what
// was found. Process must not be called afterwards.
func (p *Comparison) Result() Result {
	if p.finished == nil {
		p.programme.End(&p.heard)
		r := p.tester.Result(&p.heard)
		p.finished = &r
	}
	return *p.finished
}

// Reference is a reference already heard, to be compared with many tests: its
// excitation, its masking and the filters it sets are worked out once. It takes about
// 10 kB a step of 10.7 ms and channel, 1 MB a second, and is meant for excerpts; a
// [Programme] hears longer ones. It is read-only and may be used by many goroutines at
// once.
type Reference struct {
	config     Config
	tables     *tables
	whole, end Heard
}

// NewReference hears a whole reference, indexed [channel][frame]. It returns an
// error if the configuration is outside its legal ranges and panics unless signal
// has the configured number of equally long channels.
func NewReference(c Config, signal [][]float64) (*Reference, error) {
	if err := c.check(); err != nil {
		return nil, err
	}
	return referenceOf(standard, c, signal), nil
}

func referenceOf(k constants, c Config, signal [][]float64) *Reference {
	p := newProgramme(tablesFor(k, c.Rate), c)
	r := &Reference{config: c, tables: p.tables}
	p.Hear(&r.whole, signal)
	p.End(&r.end)
	return r
}

// Compare returns what a [Comparison] would for this reference and test. It panics
// unless test is as long as the reference in as many channels.
func (r *Reference) Compare(test [][]float64) Result {
	t := newTester(r.tables, r.config)
	t.Compare(&r.whole, test)
	return t.Result(&r.end)
}

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

// finite reports whether x can stand in a result.
func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
