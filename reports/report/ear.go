package report

import (
	"context"
	"errors"
	"fmt"
	"math"

	"quietcross/corpus"
	"quietcross/dsp/bs1387"
	"quietcross/dsp/hearing"
	"quietcross/dsp/planar"
	"quietcross/dsp/wave"
	"quietcross/reports/audibility"
)

// What is predicted to be heard. Reference and renderings are read side by side, stretch by
// stretch, converted to the ear models' rate and compared, so that a piece of any length
// takes bounded memory. A stretch of the reference is heard once for all renderings, while
// these are compared with the one before. The detection model of quietcross/dsp/hearing
// answers; ITU-R BS.1387 is asked for its figures where an item is as short as it is meant
// for.

// Bounds of what the ear models are asked about, and their rate, Hz. The Recommendation
// is for test items of 10 to 20 s (from memory).
const (
	earChannels     = 2
	standardSeconds = 60
	earRate         = bs1387.Rate
)

// courseSteps is the maximum number of values of a [Course].
const courseSteps = 512

// Detection is what is predicted to be heard of a rendering beside its reference.
type Detection struct {
	// DPrime is the sensitivity d' with which the difference is told at its best
	// moment, and Probability that of noticing it, [hearing.Detection].
	DPrime      float64 `json:"d_prime"`
	Probability float64 `json:"probability"`
	// Strongest is where the difference stands out most.
	Strongest hearing.Place `json:"strongest"`
	// When says where in the item the difference is predicted to be heard.
	When audibility.When `json:"when"`
	// Verdict is that in words, with the conditions that it holds under.
	Verdict string `json:"verdict"`
	// Course is the probability over time.
	Course Course `json:"course"`
	// Standard are the figures of ITU-R BS.1387; nil for items that it is not meant
	// for.
	Standard *audibility.Standard `json:"bs1387,omitempty"`
}

// Course is a probability over time: Probability[i] is the maximum of the
// stretch of Step seconds around Start + i·Step.
type Course struct {
	Start       float64   `json:"start_s"`
	Step        float64   `json:"step_s"`
	Probability []float64 `json:"probability"`
}

// Heard tells that the difference is predicted to be heard, by the one limit of the
// program.
func (d *Detection) Heard() bool { return d.Probability > audibility.DefaultLimit }

// beyondTheEar says why nothing is predicted of an item; "" where it is.
func beyondTheEar(item *corpus.Item) string {
	if item.Channels > earChannels {
		return fmt.Sprintf("the item has %d channels; the ear model takes one or two", item.Channels)
	}
	return ""
}

// heardFile is a file of an item that is heard, at the ear models' rate.
type heardFile struct {
	file       *wave.Reader
	block      planar.Audio              // at the item's rate
	converters []audibility.EarConverter // nil where that is the ear's
	converted  [][]float64
}

// hears opens a file for the ear.
func (t track) hears(file string) (*heardFile, error) {
	h := &heardFile{block: planar.New(t.item.Channels, int(min(stretchFrames, t.item.Frames)))}
	for range t.item.Channels {
		if t.item.Rate == earRate {
			break
		}
		converter, err := audibility.NewEarConverter(t.item.Rate)
		if err != nil {
			return nil, err
		}
		h.converters = append(h.converters, converter)
	}
	h.converted = make([][]float64, t.item.Channels)
	var err error
	h.file, err = t.open(file)
	return h, err
}

// next reads so many frames and returns them as the ear takes them, all less a gain; or
// what the converters hold back, for none.
func (h *heardFile) next(frames int, gain float64) ([][]float64, error) {
	part := h.block.Cut(0, frames)
	if err := fill(h.file, part); err != nil {
		return nil, err
	}
	for _, x := range part {
		for i := range x {
			x[i] /= gain
		}
	}
	if h.converters == nil {
		return part, nil
	}
	for c, converter := range h.converters {
		if h.converted[c] = h.converted[c][:0]; frames == 0 {
			h.converted[c] = converter.Flush(h.converted[c])
		} else {
			h.converted[c] = converter.Process(h.converted[c], part[c])
		}
	}
	return h.converted, nil
}

// stretchFrames is how much of a file is heard at a time.
const stretchFrames = 1 << 14

// A stretch is what was heard of that much of a reference.
type stretch struct {
	frames   int // 0 for what the converters hold back
	model    hearing.Heard
	standard bs1387.Heard
}

// An audience compares the renderings of an item with its reference.
type audience struct {
	file     *heardFile
	left     int64 // frames of it
	ended    bool
	model    *hearing.Programme
	standard *bs1387.Programme // nil where the item is too long for it
	ears     []*ear
}

// ear compares one rendering.
type ear struct {
	rendering int
	file      *heardFile
	gain      float64
	model     *hearing.Tester
	standard  *bs1387.Tester // nil where the item is too long for it
	heard     hearing.Conditions
}

// newAudience opens the reference and all renderings through which something passes.
func newAudience(t track, heard hearing.Conditions) (*audience, error) {
	a := &audience{left: t.item.Frames}
	var err error
	if a.file, err = t.hears(t.item.Reference.File); err != nil {
		return a, err
	}
	if a.model, err = hearing.NewProgramme(heard.Config(earRate, t.item.Channels)); err != nil {
		return a, err
	}
	if c, ok := asksStandard(t.item, heard); ok {
		if a.standard, err = bs1387.NewProgramme(c); err != nil {
			return a, err
		}
	}
	for i, r := range t.item.Renderings {
		if !passes(r) {
			continue
		}
		e, err := newEar(t, i, heard)
		if a.ears = append(a.ears, e); err != nil {
			return a, err
		}
	}
	return a, nil
}

// asksStandard tells whether the standard is asked about an item, and how.
func asksStandard(item *corpus.Item, heard hearing.Conditions) (bs1387.Config, bool) {
	return bs1387.Config{Rate: earRate, PlaybackSPL: heard.Playback, Channels: item.Channels},
		float64(item.Frames)/float64(item.Rate) <= standardSeconds
}

func newEar(t track, rendering int, heard hearing.Conditions) (*ear, error) {
	r := t.item.Renderings[rendering]
	e := &ear{rendering: rendering, gain: unmatched(r), heard: heard}
	var err error
	if e.file, err = t.hears(r.File); err != nil {
		return e, err
	}
	if e.model, err = hearing.NewTester(heard.Config(earRate, t.item.Channels)); err != nil {
		return e, err
	}
	if c, ok := asksStandard(t.item, heard); ok {
		e.standard, err = bs1387.NewTester(c)
	}
	return e, err
}

// close closes the files that were opened.
func (a *audience) close() {
	files := []*heardFile{a.file}
	for _, e := range a.ears {
		files = append(files, e.file)
	}
	for _, f := range files {
		if f != nil && f.file != nil {
			f.file.Close()
		}
	}
}

// listen hears the next stretch of the reference.
func (a *audience) listen(s *stretch) error {
	s.frames = int(min(a.left, stretchFrames))
	a.left -= int64(s.frames)
	a.ended = s.frames == 0
	block, err := a.file.next(s.frames, 1)
	if err != nil {
		return err
	}
	a.model.Hear(&s.model, block)
	if a.standard != nil {
		a.standard.Hear(&s.standard, block)
	}
	return nil
}

// compare compares the next stretch of the rendering.
func (e *ear) compare(s *stretch) error {
	block, err := e.file.next(s.frames, e.gain)
	if err != nil {
		return err
	}
	e.model.Compare(&s.model, block)
	if e.standard != nil {
		e.standard.Add(&s.standard, block)
	}
	return nil
}

// detect says what is predicted to be heard of each rendering: nothing where nothing
// passes or the item is not one for the ear.
func (item *Item) detect(ctx context.Context, t track, heard hearing.Conditions) error {
	if beyondTheEar(t.item) != "" {
		return nil
	}
	a, err := newAudience(t, heard)
	defer a.close()
	if err != nil || len(a.ears) == 0 {
		return err
	}
	now, next := new(stretch), new(stretch)
	for err = a.listen(now); err == nil; now, next = next, now {
		last := a.ended
		tasks := []func() error{func() error {
			if last {
				return nil
			}
			return a.listen(next)
		}}
		for _, e := range a.ears {
			tasks = append(tasks, func() error { return e.compare(now) })
		}
		if err = errors.Join(together(tasks), ctx.Err()); last {
			break
		}
	}
	if err != nil {
		return err
	}
	a.model.End(&now.model)
	for _, e := range a.ears {
		r := &item.Renderings[e.rendering]
		r.Detection, r.Picture = e.judge(&now.model)
	}
	return nil
}

// unmatched is the gain to take out of a file before it is compared by ear: none
// where levels were matched, else the stage's own, so that a difference of level
// alone is none.
func unmatched(r corpus.Rendering) float64 {
	if r.Applied != 0 {
		return 1
	}
	return fileGain(r)
}

// judge says what a comparison means.
func (e *ear) judge(end *hearing.Heard) (*Detection, *hearing.Picture) {
	result := e.model.Result(end)
	if math.IsNaN(result.DPrime) {
		return nil, nil
	}
	var standard *audibility.Standard
	if e.standard != nil {
		standard = audibility.StandardOf(e.standard.Result())
	}
	d := &Detection{
		DPrime: result.DPrime, Probability: hearing.Detection(result.DPrime), Strongest: result.Strongest,
		When:     audibility.Locate(&result, audibility.DefaultLimit, audibility.DefaultExcerpt),
		Course:   course(result.Course, result.Duration),
		Standard: standard,
	}
	d.Verdict = d.When.Verdict(e.heard)
	return d, &result.Picture
}

// course joins neighbours of a series until it has at most [courseSteps] values,
// rounded to a hundredth of a percent. What follows the end of the item is left out.
func course(s hearing.Course, duration float64) Course {
	n := 0
	for n < len(s.Moments) && s.Moments[n].Time <= duration {
		n++
	}
	if n == 0 {
		return Course{}
	}
	span := (n + courseSteps - 1) / courseSteps
	c := Course{Step: s.Step * float64(span), Start: s.Moments[0].Time + s.Step*float64(span-1)/2}
	for i, m := range s.Moments[:n] {
		p := math.Round(1e4*hearing.Detection(m.DPrime)) / 1e4
		if i%span == 0 {
			c.Probability = append(c.Probability, p)
			continue
		}
		last := &c.Probability[len(c.Probability)-1]
		*last = max(*last, p)
	}
	return c
}
