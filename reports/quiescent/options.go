package quiescent

import (
	"errors"
	"fmt"
	"runtime"

	"quietcross/corpus/render"
	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/stage"
	"quietcross/stage/parts"
)

// DefaultUnits is how many units [DefaultOptions] draws, and maxUnits bounds it.
const (
	DefaultUnits = 100
	maxUnits     = 100_000
)

// Options say what to work out. Zero is a value like any other: begin with
// [DefaultOptions].
type Options struct {
	Spec   stage.Spec
	Limits Limits
	// Sources are the material; at least one, of one or two channels at 48 kHz.
	Sources []render.Source
	// Library, if not nil, is what a surveyed library asks for: the minimum current of the
	// recommendation in place of that which Sources ask for.
	Library *Library
	// Levels are those the material is played at, dB re Drive; at least one.
	Levels []level.DB
	// ToneLevels are those of the steady tones, dB re Drive; at least one.
	ToneLevels []level.DB
	// Drive is the stage input at level 0, V peak; nil stands for the stage's own,
	// 1 dB under clipping as built.
	Drive *float64
	// Heard is the playback level, the room and the listener.
	Heard hearing.Conditions
	// Tolerances are how built units spread, and Units how many are drawn with
	// Seed, 0 to 100,000.
	Tolerances Tolerances
	Units      int
	Seed       uint64
	// Parts say what the parts that set the current are chosen for.
	Parts parts.Options
	// standard adds the figures of ITU-R BS.1387 to the findings, for the test that holds
	// the prediction against them.
	standard bool

	// Workers bounds how much is worked on at once, at least 1. The result does not
	// depend on it.
	Workers int
	// Progress, if not nil, is told the share of the work that is done, 0 to 1.
	// It is called from several goroutines, one at a time.
	Progress func(share float64)
}

// DefaultOptions are the usual limits and tolerances, full drive and a quiet passage,
// tones of 0, -20 and -40 dB, usual listening and one worker a processor. They lack Sources.
func DefaultOptions(spec stage.Spec) Options {
	return Options{
		Spec: spec, Limits: DefaultLimits(spec), Levels: render.DefaultLevels(), ToneLevels: []level.DB{0, -20, -40},
		Heard: hearing.DefaultConditions(), Tolerances: UsualTolerances(), Units: DefaultUnits, Seed: 1,
		Parts: parts.DefaultOptions(), Workers: runtime.GOMAXPROCS(0),
	}
}

// Check returns the first option that is not legal, of those that can be told
// without solving the stage.
func (o *Options) Check() error {
	if err := o.Heard.Check(); err != nil {
		return fmt.Errorf("quiescent: %w", err)
	}
	switch {
	case len(o.Sources) == 0:
		return errors.New("quiescent: no material to listen to")
	case len(o.Levels) == 0 || len(o.ToneLevels) == 0:
		return errors.New("quiescent: no levels")
	case o.Units < 0 || o.Units > maxUnits:
		return fmt.Errorf("quiescent: %d units: legal are 0 to %d", o.Units, maxUnits)
	case o.Workers < 1:
		return fmt.Errorf("quiescent: %d workers: at least 1", o.Workers)
	}
	if err := o.Limits.check(); err != nil {
		return fmt.Errorf("quiescent: %w", err)
	}
	if err := o.Parts.Check(); err != nil {
		return fmt.Errorf("quiescent: %w", err)
	}
	return o.Tolerances.check()
}
