package survey

import (
	"context"
	"errors"
	"fmt"
	"io"

	"quietcross/corpus"
	"quietcross/corpus/render"
	"quietcross/dsp/intake"
	"quietcross/dsp/level"
	"quietcross/dsp/planar"
	"quietcross/dsp/wave"
	"quietcross/reports/audibility"
)

// An excerpt is heard through a stage by the sparse search of reports/audibility: rendered
// at some currents of a lattice of ten a decade, each compared with the reference by the
// detection model, and bisected to two neighbours between which what is heard crosses the
// limit. The threshold is read off between them: within a few percent of what the command
// audibility narrows to, and the stage is solved at the currents of one lattice alone, so
// that time and memory a recording stay the same in a library of any size. What is kept
// is where the excerpt is predicted clean, and the moment at which it is heard just below.

const (
	perDecade = 10
	// unnarrowed is wider than a step of the lattice, 1.26.
	unnarrowed = 0.3
)

// Span is a stretch of quiescent current, A.
type Span struct {
	From float64 `json:"from_a"`
	To   float64 `json:"to_a"`
}

// Outcome is what was found of one excerpt through one stage.
type Outcome struct {
	Kind Kind `json:"kind"`
	// Level is that of the excerpt re the drive, dB, and Limited tells that the volume
	// was not turned up as far as asked for, since the peak would have passed the drive.
	Level   level.DB `json:"level_db"`
	Limited bool     `json:"limited,omitempty"`
	// Clean are the stretches of current, ascending, in which nothing is predicted
	// heard. The first begins at the minimum current searched where that is clean.
	Clean []Span `json:"clean,omitempty"`
	// Searched is the stretch of current that was searched.
	Searched Span `json:"searched"`
	// Threshold is the current from which it is predicted clean, A; nil where it is clean
	// at the minimum already or nowhere.
	Threshold *float64 `json:"threshold_a,omitempty"`
	// Heard is the moment at which it is heard just below the threshold, or at the
	// maximum current where it is clean nowhere; nil where it is clean at the minimum.
	Heard *Moment `json:"heard,omitempty"`
	// Failures is the number of currents without an operating point; Error says why
	// there is no outcome.
	Failures int    `json:"failures,omitempty"`
	Error    string `json:"error,omitempty"`
}

// Moment is where to listen.
type Moment struct {
	// Quiescent is the current, A, at which it is heard at First, s from the beginning of
	// the recording, with the probability Detection.
	Quiescent float64 `json:"quiescent_a"`
	First     float64 `json:"first_s"`
	Detection float64 `json:"detection"`
	// From and To bound what to listen to, s from the beginning of the excerpt.
	From float64 `json:"from_s"`
	To   float64 `json:"to_s"`
}

// A hearer finds the outcome of an excerpt through the stage of an index.
type hearer interface {
	hear(ctx context.Context, stage int, e heard) (Outcome, error)
	// listen writes the moment to listen to as a reference and a rendering.
	listen(ctx context.Context, stage int, e heard, m Moment, reference, rendering string) error
}

// heard is an excerpt as it is heard.
type heard struct {
	Excerpt
	name    string
	audio   planar.Audio
	rate    int
	level   level.DB
	limited bool
}

// A searcher hears through benches.
type searcher struct {
	benches []*render.Bench
	options []audibility.Options
}

// newSearcher returns what hears through the options' stages.
func newSearcher(o *Options) (*searcher, error) {
	s := &searcher{}
	for _, spec := range o.Stages {
		bench, err := render.NewBench(render.Options{
			Spec: spec, Levels: []level.DB{max(0, o.Level)}, Drive: o.Drive, Solver: o.Solver, Workers: 2,
			Match: render.MatchGain, // by loudness, what is left of a level difference would itself be heard
		})
		if err != nil {
			return nil, fmt.Errorf("%s: %w", spec.Name, err)
		}
		search, err := o.search(bench.Ladder().Stage().OptimumQuiescent())
		if err != nil {
			return nil, fmt.Errorf("%s: %w", spec.Name, err)
		}
		s.benches, s.options = append(s.benches, bench), append(s.options, search)
	}
	return s, nil
}

// search are the options of the search through a stage with an optimum current, A.
func (o *Options) search(optimum float64) (audibility.Options, error) {
	low, high := o.Low, o.High
	if low == 0 {
		low, high = optimum/1e3, optimum*10
	}
	if low == 0 {
		return audibility.Options{}, errors.New("it has no optimum current to search about: give the range of currents")
	}
	search := audibility.DefaultOptions(low, high)
	search.Heard, search.Limit, search.Workers = o.Heard, o.Limit, 1
	search.PerDecade, search.Tolerance = perDecade, unnarrowed
	return search, search.Check()
}

// searched is the stretch of currents that is searched through a stage.
func (s *searcher) searched(stage int) Span {
	o := &s.options[stage]
	currents := audibility.Lattice(o.Low, o.High, o.PerDecade)
	return Span{currents[0], currents[len(currents)-1]}
}

// kase is the case of an excerpt.
func (s *searcher) kase(stage int, e heard) (audibility.Case, error) {
	cases, err := audibility.Cases(s.benches[stage], []render.Source{e}, []level.DB{e.level}, nil)
	if err != nil {
		return audibility.Case{}, err
	}
	return cases[0], nil
}

func (s *searcher) hear(ctx context.Context, stage int, e heard) (Outcome, error) {
	outcome := Outcome{Kind: e.Kind, Level: e.level, Limited: e.limited}
	k, err := s.kase(stage, e)
	if err != nil {
		return outcome, err
	}
	finding, err := audibility.ExamineSparsely(ctx, k, s.options[stage])
	if err != nil {
		return outcome, err
	}
	outcome.read(&finding, e.From)
	return outcome, nil
}

func (s *searcher) listen(ctx context.Context, stage int, e heard, m Moment, reference, rendering string) error {
	k, err := s.kase(stage, e)
	if err != nil {
		return err
	}
	return k.WriteExcerpts(ctx, m.Quiescent, m.From, m.To, reference, rendering)
}

// read takes from a finding what is kept. begin is where the excerpt begins, s.
func (o *Outcome) read(f *audibility.Finding, begin float64) {
	o.Error, o.Failures = f.Error, len(f.Failures)
	if len(f.Curve) == 0 {
		if o.Error == "" {
			o.Error = "no current has an operating point"
		}
		return
	}
	first, last := f.Curve[0], f.Curve[len(f.Curve)-1]
	o.Searched = Span{first.Quiescent, last.Quiescent}
	clean, from := first.Detection <= f.Limit, o.Searched.From
	if !clean {
		o.Heard = moment(last, begin)
	}
	for _, c := range f.Crossings {
		if c.Rising && clean {
			o.Clean = append(o.Clean, Span{from, c.Quiescent})
		}
		clean, from = !c.Rising, c.Quiescent
	}
	if clean {
		o.Clean = append(o.Clean, Span{from, o.Searched.To})
	}
	if f.Threshold == nil || first.Detection <= f.Limit {
		return
	}
	o.Threshold = &f.Threshold.Quiescent
	if p, ok := f.LastAudible(); ok {
		o.Heard = moment(p, begin)
	}
}

func moment(p audibility.Point, begin float64) *Moment {
	return &Moment{
		Quiescent: p.Quiescent, First: begin + p.When.First, Detection: p.Detection, From: p.When.From, To: p.When.To,
	}
}

// Describe implements [render.Source].
func (e heard) Describe() (corpus.Source, error) { return corpus.Source{Name: e.name}, nil }

// Open implements [render.Source].
func (e heard) Open() (intake.Stream, error) {
	format := wave.Format{Rate: e.rate, Channels: len(e.audio), Encoding: wave.Float, Bits: 64}
	return &memory{left: e.audio, format: format, frames: int64(e.audio.Frames())}, nil
}

// memory is a stream of what is held in memory.
type memory struct {
	left   planar.Audio
	format wave.Format
	frames int64
}

func (m *memory) Format() wave.Format { return m.format }
func (m *memory) Frames() int64       { return m.frames }
func (m *memory) Warnings() []string  { return nil }
func (m *memory) Close() error        { return nil }

func (m *memory) Read(dst [][]float64) (int, error) {
	n := min(planar.Audio(dst).Frames(), m.left.Frames())
	if n == 0 {
		return 0, io.EOF
	}
	for c := range dst {
		copy(dst[c][:n], m.left[c][:n])
	}
	m.left = m.left.Cut(n, m.left.Frames())
	return n, nil
}
