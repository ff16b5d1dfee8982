// Package lesson makes a page that carries a class through the bias of output
// stages by ear and eye: six steps from class A to a pair with two diodes, and a
// slider over the bias of one stage while the sound plays.
//
// The page is one file. It holds its drawings, laws and sounds, needs no network
// and no other file, and prints as a handout. All figures in its text are computed
// from the stages that it shows.
package lesson

import (
	"context"
	"fmt"
	"runtime"

	"golang.org/x/sync/errgroup"

	"quietcross/corpus/render"
	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/stage"
)

// Options say what to make. Zero is a value like any other: begin with
// [DefaultOptions].
type Options struct {
	// Spec is the stage of the bias slider, and of the last two steps where it is a
	// complementary pair.
	Spec stage.Spec
	// Seconds is the length of each excerpt of music, 1 to 10.
	Seconds float64
	// Solver is how circuits with memory are rendered.
	Solver render.Solver
	// Playback is the level of a full-scale sine at the listener, dB SPL, for the
	// prediction of what is heard.
	Playback level.DB
	Seed     uint64
	// Workers bounds how many stages are worked on at once, at least 1.
	Workers int
	// Progress, if not nil, is told the share of the work that is done, 0 to 1,
	// one call at a time.
	Progress func(share float64)
}

// Legal lengths of an excerpt, s.
const (
	defaultSeconds = 4
	minimumSeconds = 1
	mostSeconds    = 10
)

// DefaultOptions are excerpts of 4 s at 92 dB SPL, each stage solved as its circuit
// asks, with one worker a processor.
func DefaultOptions(spec stage.Spec) Options {
	return Options{
		Spec: spec, Seconds: defaultSeconds, Solver: render.SolverAuto, Playback: hearing.DefaultSPL,
		Seed: 1, Workers: runtime.GOMAXPROCS(0),
	}
}

// check returns the first option that is not legal.
func (o *Options) check() error {
	if err := hearing.CheckSPL(o.Playback); err != nil {
		return fmt.Errorf("lesson: %w", err)
	}
	switch {
	case !(o.Seconds >= minimumSeconds && o.Seconds <= mostSeconds):
		return fmt.Errorf("lesson: excerpts of %g s: legal are %d to %d", o.Seconds, minimumSeconds, mostSeconds)
	case o.Workers < 1:
		return fmt.Errorf("lesson: %d workers: at least 1", o.Workers)
	}
	return nil
}

// Lesson is the content of the page.
type Lesson struct {
	title  string
	steps  []step
	ladder ladder
	inputs inputs
	myths  []myth
}

// Build renders and computes all that the page shows. The error is that of
// options that are not legal, of a stage that cannot be solved, or of a context
// that has ended.
func Build(ctx context.Context, o Options) (*Lesson, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	l := &Lesson{title: o.Spec.Title}
	var err error
	if l.inputs, err = newInputs(o.Seconds, o.Seed); err != nil {
		return nil, err
	}
	plans, err := plans(o.Spec)
	if err != nil {
		return nil, err
	}
	l.steps = make([]step, len(plans))
	tell := teller(o.Progress, len(plans)+1)
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(o.Workers)
	group.Go(func() (err error) {
		defer tell()
		l.ladder, err = newLadder(ctx, o)
		return err
	})
	for i, p := range plans {
		group.Go(func() (err error) {
			defer tell()
			if l.steps[i], err = newStep(ctx, i, p, l.inputs, o.Solver); err != nil {
				return fmt.Errorf("%s: %w", p.spec.Name, err)
			}
			return nil
		})
	}
	if err := group.Wait(); err != nil {
		return nil, err
	}
	for i, p := range plans {
		if err := p.words(&l.steps[i], l.steps); err != nil {
			return nil, err
		}
	}
	l.myths, err = myths(l.steps)
	return l, err
}
