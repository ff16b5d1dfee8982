// Package lesson makes a page that leads a class from a fault that it hears in quiet
// music to the cause, the cure and what each cure costs.
//
// The page is one file. The stages play in it: it holds the engine of the live page, and
// makes its sounds itself. What the text says of a stage, a number, a comparison, a
// prediction of what is heard, is computed when the page is written, by the same engine on
// the same sound; what does not hold for a stage is not said of it. Beside the page come
// a handout for students and a key for the teacher.
package lesson

import (
	"context"
	"errors"
	"fmt"
	"io/fs"

	"quietcross/dsp/hearing"
	"quietcross/reports/live"
	"quietcross/reports/live/engine"
	"quietcross/stage"
)

// Options say what to make. Zero is a value like any other: begin with [DefaultOptions].
type Options struct {
	// Spec is the stage whose fault is heard and cured, and Argument what names it on a
	// command line.
	Spec     stage.Spec
	Argument string
	// Heard is how loudly the class listens, for the predictions.
	Heard hearing.Conditions
	// Seed varies the music and the numbers of the questions.
	Seed uint64
	// Own is a recording that the page holds beside its own music, nil for none.
	Own *Own
	// Engine holds the files of an engine; nil stands for the program's own.
	Engine fs.FS
	// Progress, if not nil, is told the share of the work that is done, 0 to 1.
	Progress func(share float64)
}

// Own is a sound file that goes into the page as it is.
type Own struct {
	Name string
	Data []byte
}

// MaximumOwn bounds it, bytes: a page that holds more is slow to open.
const MaximumOwn = 32 << 20

// DefaultOptions are those of a stage that is named by argument.
func DefaultOptions(spec stage.Spec, argument string) Options {
	return Options{Spec: spec, Argument: argument, Heard: hearing.DefaultConditions(), Seed: 1}
}

// ErrUnfit is wrapped by the refusal of a stage that the lesson cannot be told with.
var ErrUnfit = errors.New("the lesson cannot be told with this stage")

// A Lesson is all that the page and the sheets say.
type Lesson struct {
	options Options
	parts   live.Parts
	thread  *thread
	steps   []step
	bank    []question
}

// Build works everything out. The error is that of options that are not legal, of a
// program without an engine, of a recording that cannot be read, of a stage that is unfit
// ([ErrUnfit]) or cannot be solved, or of a context that has ended.
func Build(ctx context.Context, o Options) (*Lesson, error) {
	if err := o.Heard.Check(); err != nil {
		return nil, fmt.Errorf("lesson: %w", err)
	}
	if o.Own != nil && len(o.Own.Data) > MaximumOwn {
		return nil, fmt.Errorf("lesson: %s: %d bytes, legal are %d; a longer file can be dropped on the page", o.Own.Name, len(o.Own.Data), MaximumOwn)
	}
	l := &Lesson{options: o}
	var err error
	if l.parts, err = live.NewParts(o.Engine); err != nil {
		return nil, err
	}
	if o.Own != nil {
		if _, err := engine.Decode(o.Own.Name, o.Own.Data); err != nil {
			return nil, err
		}
	}
	stand, err := newStand(ctx, o.Heard, o.Seed)
	if err != nil {
		return nil, err
	}
	if err := l.tell(stand); err != nil {
		return nil, err
	}
	return l, nil
}

// tell works the steps out on a stand.
func (l *Lesson) tell(stand *stand) (err error) {
	o := &l.options
	if l.thread, err = newThread(stand, o.Spec, o.Argument); err != nil {
		return err
	}
	writers := []func(*thread) (step, error){
		fault, gap, halves, windings, cure, holders, starving, alwaysOn, tooMuch, warmth, loop, remains,
	}
	for i, write := range writers {
		s, err := write(l.thread)
		if err != nil {
			return fmt.Errorf("lesson, step %d: %w", i+1, err)
		}
		s.number = i + 1
		l.steps = append(l.steps, s)
		if o.Progress != nil {
			o.Progress(float64(i+1) / float64(len(writers)))
		}
	}
	l.bank, err = questions(l.thread, o.Seed)
	return err
}
