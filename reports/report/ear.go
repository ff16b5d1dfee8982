package report

import (
	"context"
	"fmt"
	"math"

	"quietcross/corpus"
	"quietcross/dsp/bs1387"
	"quietcross/dsp/hearing"
	"quietcross/dsp/planar"
	"quietcross/dsp/resample"
	"quietcross/reports/audibility"
)

// What is predicted to be heard. Reference and rendering are read side by side, block by
// block, converted to the ear models' rate and compared, so that a piece of any length
// takes bounded memory. The detection model of quietcross/dsp/hearing answers; ITU-R
// BS.1387 is asked for its figures where an item is as short as it is meant for.

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

// ear compares the files of one rendering.
type ear struct {
	model     *hearing.Comparison
	standard  *bs1387.Comparator // nil where the item is too long for it
	ref, test []*resample.Converter
	heard     hearing.Conditions
}

// newEar returns what compares a rendering of an item.
func newEar(item *corpus.Item, heard hearing.Conditions) (*ear, error) {
	e := &ear{heard: heard}
	var err error
	if e.model, err = hearing.New(heard.Config(earRate, item.Channels)); err != nil {
		return nil, err
	}
	if float64(item.Frames)/float64(item.Rate) <= standardSeconds {
		e.standard, err = bs1387.NewComparator(bs1387.Config{Rate: earRate, PlaybackSPL: heard.Playback, Channels: item.Channels})
		if err != nil {
			return nil, err
		}
	}
	if item.Rate == earRate {
		return e, nil
	}
	for range item.Channels {
		for _, list := range []*[]*resample.Converter{&e.ref, &e.test} {
			converter, err := resample.NewConverter(item.Rate, earRate)
			if err != nil {
				return nil, err
			}
			*list = append(*list, converter)
		}
	}
	return e, nil
}

// add compares the next block at the item's rate.
func (e *ear) add(ref, test [][]float64) {
	e.compare(
		converted(ref, e.ref, func(c int) []float64 { return e.ref[c].Process(nil, ref[c]) }),
		converted(test, e.test, func(c int) []float64 { return e.test[c].Process(nil, test[c]) }))
}

// finish hears what the converters hold back and returns what was found.
func (e *ear) finish() (hearing.Result, *audibility.Standard) {
	if e.ref != nil {
		e.compare(
			converted(nil, e.ref, func(c int) []float64 { return e.ref[c].Flush(nil) }),
			converted(nil, e.test, func(c int) []float64 { return e.test[c].Flush(nil) }))
	}
	if e.standard == nil {
		return e.model.Result(), nil
	}
	return e.model.Result(), audibility.StandardOf(e.standard.Result())
}

// converted returns a block as it is, or what each converter makes of it.
func converted(block [][]float64, converters []*resample.Converter, convert func(channel int) []float64) [][]float64 {
	if converters == nil {
		return block
	}
	list := make([][]float64, len(converters))
	for c := range list {
		list[c] = convert(c)
	}
	return list
}

func (e *ear) compare(ref, test [][]float64) {
	e.model.Process(ref, test)
	if e.standard != nil {
		e.standard.Add(ref, test)
	}
}

// detect compares a rendering's file with the reference's; nil when nothing passes or
// the item is not one for the ear.
func (t track) detect(ctx context.Context, heard hearing.Conditions, r corpus.Rendering) (*Detection, *hearing.Picture, error) {
	if beyondTheEar(t.item) != "" || !passes(r) {
		return nil, nil, nil
	}
	e, err := newEar(t.item, heard)
	if err != nil {
		return nil, nil, err
	}
	reference, err := t.open(t.item.Reference.File)
	if err != nil {
		return nil, nil, err
	}
	defer reference.Close()
	gain := unmatched(r)
	var beside planar.Audio
	err = t.scan(ctx, r.File, func(test [][]float64) error {
		if beside.Frames() < len(test[0]) {
			beside = planar.New(t.item.Channels, len(test[0]))
		}
		ref := beside.Cut(0, len(test[0]))
		if err := fill(reference, ref); err != nil {
			return err
		}
		for _, x := range test {
			for i := range x {
				x[i] /= gain
			}
		}
		e.add(ref, test)
		return nil
	})
	if err != nil {
		return nil, nil, err
	}
	d, picture := e.judge()
	return d, picture, nil
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
func (e *ear) judge() (*Detection, *hearing.Picture) {
	result, standard := e.finish()
	if math.IsNaN(result.DPrime) {
		return nil, nil
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
