package quiescent

import (
	"errors"
	"fmt"
	"runtime"

	"quietcross/corpus/render"
	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/stage"
)

// DefaultUnits is how many units are drawn where [Options.Units] is zero.
const DefaultUnits = 300

// maxUnits bounds the units drawn.
const maxUnits = 100_000

// Options say what to work out. A field left at zero takes its default.
type Options struct {
	Spec   stage.Spec
	Limits Limits
	// Sources are the material; at least one, of one or two channels at 48 kHz.
	Sources []render.Source
	// Levels are those the material is played at, dB re Drive; by default full
	// drive and a quiet passage.
	Levels []level.DB
	// ToneLevels are those of the steady tones, dB re Drive; by default 0, -20
	// and -40.
	ToneLevels []level.DB
	// Drive is the stage input at level 0, V peak; nil stands for the stage's own,
	// 1 dB under clipping as built.
	Drive *float64
	// Playback is the level of a full-scale sine at the listener, dB SPL.
	Playback level.DB
	// Tolerances are how built units spread, and Units how many are drawn with
	// Seed. A negative Units draws none.
	Tolerances *Tolerances
	Units      int
	Seed       uint64
	// Workers bounds how much is worked on at once; by default one for each
	// processor. The result does not depend on it.
	Workers int
	// Progress, if not nil, is told the share of the work that is done, 0 to 1.
	// It is called from several goroutines, one at a time.
	Progress func(share float64)
}

func (o Options) withDefaults() Options {
	o.Limits = o.Limits.withDefaults(o.Spec)
	if o.Levels == nil {
		o.Levels = render.DefaultLevels()
	}
	if o.ToneLevels == nil {
		o.ToneLevels = []level.DB{0, -20, -40}
	}
	fill(&o.Playback, hearing.DefaultSPL)
	fill(&o.Units, DefaultUnits)
	fill(&o.Workers, runtime.GOMAXPROCS(0))
	if o.Tolerances == nil {
		usual := UsualTolerances()
		o.Tolerances = &usual
	}
	return o
}

// checked returns the options with defaults filled in, or the first that is not
// legal.
func (o Options) checked() (Options, error) {
	if err := o.Check(); err != nil {
		return o, err
	}
	return o.withDefaults(), nil
}

// Check returns the first option that is not legal, of those that can be told
// without solving the stage.
func (o Options) Check() error {
	o = o.withDefaults()
	switch {
	case len(o.Sources) == 0:
		return errors.New("quiescent: no material to listen to")
	case len(o.Levels) == 0 || len(o.ToneLevels) == 0:
		return errors.New("quiescent: no levels")
	case !(o.Playback >= hearing.MinimumSPL && o.Playback <= hearing.MaximumSPL):
		return fmt.Errorf("quiescent: playback level %g dB SPL: legal are %g to %g", float64(o.Playback), float64(hearing.MinimumSPL), float64(hearing.MaximumSPL))
	case o.Units > maxUnits:
		return fmt.Errorf("quiescent: %d units: legal are up to %d", o.Units, maxUnits)
	case o.Workers < 1:
		return fmt.Errorf("quiescent: %d workers: at least 1", o.Workers)
	}
	if err := o.Limits.check(); err != nil {
		return fmt.Errorf("quiescent: %w", err)
	}
	return o.Tolerances.check()
}
