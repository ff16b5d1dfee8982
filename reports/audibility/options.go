package audibility

import (
	"fmt"
	"math"
	"runtime"

	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
)

// What [DefaultOptions] holds.
const (
	DefaultPoints    = 11
	DefaultLimit     = 0.5
	DefaultTolerance = 0.03
	DefaultExcerpt   = 4.0
)

// ContrastNumber is the name under which [Options.Contrast] adds to a point's
// numbers.
const ContrastNumber = "gammatone-decorrelation"

// Options says where and how finely to search. Zero is a value like any other: begin
// with [DefaultOptions].
type Options struct {
	// Playback is the level of a full-scale sine at the listener, dB SPL, 20 to
	// 110. See [hearing.SPL].
	Playback level.DB
	// Low and High bound the quiescent current, A: 0 < Low < High.
	Low, High float64
	// Zero asks for the stage without any current as well.
	Zero bool
	// Points is the number of currents on the curve before crossings are
	// narrowed, 2 to 1000.
	Points int
	// Limit is the probability of detection above which a rendering counts as
	// predicted audible, above 0 and below 1.
	Limit float64
	// Tolerance is the ratio, less one, to which a crossing is narrowed: 0.1
	// for 10 % of the current. 1e-6 to 1.
	Tolerance float64
	// Excerpt is the length of the stretch to listen to, s, 0.5 to 60.
	Excerpt float64
	// Contrast asks for a second opinion on the curve's points, before crossings
	// are narrowed: one less the mean correlation of a [bs1387.Correlator], as
	// the number [ContrastNumber]. It takes some twenty times as long as the
	// rest of the prediction.
	Contrast bool
	// Workers is the number of cases worked on at once, at least 1. It does not
	// change the findings.
	Workers int
	// Progress, if not nil, is called after each case with the number done. It
	// is not called twice at once.
	Progress func(done, total int)
}

// DefaultOptions search between two quiescent currents, A, for what is detected half
// of the time at 92 dB SPL, with one worker a processor.
func DefaultOptions(low, high float64) Options {
	return Options{
		Playback: hearing.DefaultSPL, Low: low, High: high, Points: DefaultPoints, Limit: DefaultLimit,
		Tolerance: DefaultTolerance, Excerpt: DefaultExcerpt, Workers: runtime.GOMAXPROCS(0),
	}
}

// check returns an error that names the first option that is not legal, what was
// found and what is legal.
func (o *Options) check() error {
	if err := hearing.CheckSPL(o.Playback); err != nil {
		return fmt.Errorf("audibility: %w", err)
	}
	switch {
	case !(o.Low > 0) || !(o.High > o.Low) || math.IsInf(o.High, 1):
		return fmt.Errorf("audibility: quiescent current from %g A to %g A: the first must be above 0 and the second above it", o.Low, o.High)
	case o.Points < 2 || o.Points > 1000:
		return fmt.Errorf("audibility: %d points: legal are 2 to 1000", o.Points)
	case !(o.Limit > 0 && o.Limit < 1):
		return fmt.Errorf("audibility: limit %g: legal is above 0 and below 1", o.Limit)
	case !(o.Tolerance >= 1e-6 && o.Tolerance <= 1):
		return fmt.Errorf("audibility: tolerance %g: legal are 1e-6 to 1", o.Tolerance)
	case !(o.Excerpt >= 0.5 && o.Excerpt <= 60):
		return fmt.Errorf("audibility: excerpt of %g s: legal are 0.5 to 60", o.Excerpt)
	case o.Workers < 1:
		return fmt.Errorf("audibility: %d workers: at least 1", o.Workers)
	}
	return nil
}

// currents returns the points of the curve in ascending order.
func (o Options) currents() []float64 {
	var list []float64
	if o.Zero {
		list = append(list, 0)
	}
	for i := range o.Points {
		list = append(list, o.Low*math.Pow(o.High/o.Low, float64(i)/float64(o.Points-1)))
	}
	return list
}
