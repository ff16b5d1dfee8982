// Package bias works out what a bias does to a stage, in one place: operating
// point, law, crossover and dead zone, clipping, condition, what it makes of tones
// at a level and a frequency, power, heat and settled temperature. Every command
// takes its figures from here, so that two of them cannot answer differently.
//
// A [Ladder] is one stage under stated conditions. It evaluates each setting once
// and keeps the [Evaluation], whose [Rung] is the plain record that results and
// manifests carry.
package bias

import (
	"fmt"
	"math"
	"sync"

	"quietcross/dsp/shape"
	"quietcross/stage"
)

// The error of a fitted law relative to the range over which it is solved; about
// rest it is a thousand times as tight. For rendering, ten times less gains 2 dB of
// error at full level, where the filters' ripple takes over, and costs a quarter of
// the shaper's speed. A law whose figures are read directly is the finer one: there a
// microvolt counts.
const (
	RenderTolerance = 1e-7
	FigureTolerance = 1e-9
)

// headroom is how far beyond the drive a law for figures is solved at least, so that
// neighbouring peaks share one law.
const headroom = 1.5

// A Ladder evaluates one stage at any setting. It keeps what it has evaluated and is
// safe for concurrent use.
type Ladder struct {
	stage *stage.Stage
	drive float64

	mu    sync.Mutex
	rungs map[stage.Setting]*pending
}

// A pending evaluation is worked out by the first goroutine that asks.
type pending struct {
	once  sync.Once
	value *Evaluation
	err   error
}

// NewLadder returns the ladder of a stage whose level 0 is a drive in volts peak at
// its input; nil stands for the stage's own, [stage.Stage.Drive]. Legal is a drive
// above 0 and finite.
func NewLadder(st *stage.Stage, drive *float64) (*Ladder, error) {
	l := &Ladder{stage: st, rungs: map[stage.Setting]*pending{}}
	if drive == nil {
		var err error
		l.drive, err = st.Drive()
		return l, err
	}
	if !(*drive > 0) || math.IsInf(*drive, 1) {
		return nil, fmt.Errorf("drive %g V: legal is above 0 and finite", *drive)
	}
	l.drive = *drive
	return l, nil
}

// Stage returns the stage.
func (l *Ladder) Stage() *stage.Stage { return l.stage }

// Drive returns the stage input at level 0, V peak.
func (l *Ladder) Drive() float64 { return l.drive }

// At evaluates a setting. The error, which names it, is that of a setting that the
// stage cannot take.
func (l *Ladder) At(setting stage.Setting) (*Evaluation, error) {
	l.mu.Lock()
	p, ok := l.rungs[setting]
	if !ok {
		p = &pending{}
		l.rungs[setting] = p
	}
	l.mu.Unlock()
	p.once.Do(func() { p.value, p.err = l.evaluate(setting) })
	if p.err != nil {
		return nil, fmt.Errorf("%s: %w", setting, p.err)
	}
	return p.value, nil
}

// An Evaluation is a stage at one setting. It is safe for concurrent use.
type Evaluation struct {
	Rung
	ladder *Ladder
	biased *stage.Biased // at rest: fork it

	steady steady

	mu     sync.Mutex
	laws   []fitted
	warmed map[[3]float64]func() (stage.Settled, error) // by air, maximum and peak of a sine
}

// Biased returns the stage at this setting, for the caller's own goroutine.
func (e *Evaluation) Biased() *stage.Biased { return e.biased.Fork() }

// A fitted law covers inputs from -reach to reach, V.
type fitted struct {
	law              *shape.Law
	reach, tolerance float64
}

// Law returns the midband law over inputs of reach volts to either side, with an
// error of tolerance times that. Of a circuit with memory it is what the stage does to
// signals of the middle frequencies, as in [stage.Biased.Transfer].
func (e *Evaluation) Law(reach, tolerance float64) (*shape.Law, error) {
	e.mu.Lock()
	defer e.mu.Unlock()
	for _, f := range e.laws {
		if f.reach == reach && f.tolerance == tolerance {
			return f.law, nil
		}
	}
	law, err := shape.Fit(e.Biased().Transfer, -reach, reach, tolerance*reach)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", e.biased.Setting(), err)
	}
	e.laws = append(e.laws, fitted{law, reach, tolerance})
	return law, nil
}

// figures returns the law that figures at a peak are read from.
func (e *Evaluation) figures(peak float64) (*shape.Law, error) {
	reach := headroom * e.ladder.drive
	for reach < peak {
		reach *= 2
	}
	return e.Law(reach, FigureTolerance)
}

// Current returns the setting of a quiescent current, A: the stage's own bias parts,
// trimmed cold; 0 stands for no bias at all, an ideal source of 0 V, since no bias part
// gives exactly none.
func Current(amperes float64) stage.Setting {
	if amperes == 0 {
		return stage.Bias(0)
	}
	return stage.Quiescent(amperes)
}
