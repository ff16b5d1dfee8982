package report

import (
	"context"
	"fmt"
	"math"

	"quietcross/corpus"
	"quietcross/dsp/bs1387"
	"quietcross/dsp/level"
	"quietcross/dsp/resample"
	"quietcross/reports/audibility"
)

// Bounds of what the ear model is asked about.
const (
	earSeconds  = 60
	earChannels = 2
	earRate     = 48000 // Hz
)

// courseSteps is the maximum number of values of a [Course].
const courseSteps = 512

// Detection is what an ear model (ITU-R BS.1387, basic version) predicts of a
// rendering heard against its reference.
type Detection struct {
	// Probability is the maximum filtered probability that the difference is
	// heard (MFPDB), 0 to 1.
	Probability float64 `json:"probability"`
	// NoiseToMask is the total noise-to-mask ratio.
	NoiseToMask level.DB `json:"noise_to_mask_db"`
	// Grade is the objective difference grade, 0 (imperceptible) to -3.98; nil
	// where it is not defined.
	Grade *float64 `json:"grade,omitempty"`
	// When says where in the item the difference is predicted to be heard.
	When audibility.When `json:"when"`
	// Verdict is that in words, with the conditions that it holds under.
	Verdict string `json:"verdict"`
	// Course is the probability over time.
	Course Course `json:"course"`
}

// Course is a probability over time: Probability[i] is the maximum of the
// stretch of Step seconds around Start + i·Step.
type Course struct {
	Start       float64   `json:"start_s"`
	Step        float64   `json:"step_s"`
	Probability []float64 `json:"probability"`
}

// Heard tells that the difference is predicted to be heard, more likely than
// not.
func (d *Detection) Heard() bool { return d.Probability > audibility.DefaultLimit }

// ear is an item's reference, heard once for all rungs; nil hears nothing.
type ear struct {
	reference *bs1387.Reference
	playback  level.DB
}

// listen hears the reference of an item. Where the ear model is not asked, it
// returns nil and the reason; the error is that of a file or the playback level.
func (t track) listen(ctx context.Context, playback level.DB) (e *ear, omitted string, err error) {
	config := bs1387.Config{Rate: earRate, PlaybackSPL: playback, Channels: t.item.Channels}
	if omitted := beyondTheEar(t.item); omitted != "" {
		return nil, omitted, nil
	}
	audio, err := t.hearable(ctx, t.item.Reference.File, 1)
	if err != nil {
		return nil, "", err
	}
	reference, err := bs1387.NewReference(config, audio)
	if err != nil {
		return nil, "", err
	}
	if reference.Compare(audio).Frames == 0 {
		return nil, "the item is too short for the ear model", nil
	}
	return &ear{reference, playback}, "", nil
}

// beyondTheEar says why the ear model is not asked about an item; "" where it is.
func beyondTheEar(item *corpus.Item) string {
	switch seconds := float64(item.Frames) / float64(item.Rate); {
	case item.Channels > earChannels:
		return fmt.Sprintf("the item has %d channels; the ear model takes one or two", item.Channels)
	case seconds > earSeconds:
		return fmt.Sprintf("the item is %.0f s long; it is computed up to %d s, so cut out the passage in question", seconds, earSeconds)
	}
	return ""
}

// earConverters returns a converter to the ear model's rate for each channel; nil
// where none is needed. It does block by block what [audibility.ToEarRate] does,
// so that a file is never held at its own rate.
func (t track) earConverters() ([]*resample.Converter, error) {
	if t.item.Rate == earRate {
		return nil, nil
	}
	list := make([]*resample.Converter, t.item.Channels)
	for c := range list {
		var err error
		if list[c], err = resample.NewConverter(t.item.Rate, earRate); err != nil {
			return nil, err
		}
	}
	return list, nil
}

// hearable reads a whole file as the ear model takes it, divided by gain.
func (t track) hearable(ctx context.Context, file string, gain float64) ([][]float64, error) {
	converters, err := t.earConverters()
	if err != nil {
		return nil, err
	}
	audio := make([][]float64, t.item.Channels)
	err = t.scan(ctx, file, func(block [][]float64) {
		for c, x := range block {
			if converters == nil {
				audio[c] = append(audio[c], x...)
			} else {
				audio[c] = converters[c].Process(audio[c], x)
			}
		}
	})
	if err != nil {
		return nil, err
	}
	for c := range audio {
		if converters != nil {
			audio[c] = converters[c].Flush(audio[c])
		}
		for i := range audio[c] {
			audio[c][i] /= gain
		}
	}
	return audio, nil
}

// detect compares a rendering's file with the reference; nil when nothing
// passes.
func (t track) detect(ctx context.Context, e *ear, r corpus.Rendering) (*Detection, error) {
	if e == nil || !passes(r) {
		return nil, nil
	}
	audio, err := t.hearable(ctx, r.File, unmatched(r))
	if err != nil {
		return nil, err
	}
	return e.judge(e.reference.Compare(audio)), nil
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
func (e *ear) judge(result bs1387.Result) *Detection {
	d := &Detection{
		Probability: result.Detection, NoiseToMask: result.TotalNoiseToMask,
		When:   audibility.Locate(&result, audibility.DefaultLimit, audibility.DefaultExcerpt),
		Course: course(result.Series),
	}
	d.When.Worst = worstMoment(result.Series.Moments, d.When.Worst)
	d.Verdict = d.When.Verdict(e.playback)
	if grade, ok := result.Grade(); ok {
		d.Grade = &grade
	}
	return d
}

// How near to the maximum a probability and a noise-to-mask ratio count as equal
// to it: a steady difference is heard ever more surely until it ends, and the ends
// of a fade read a little more than its middle.
const (
	aboutAsSure          = 0.01
	aboutAsBad  level.DB = 1
)

// worstMoment returns the time of the first moment that is about as bad as the
// worst: of those heard about as surely as the surest, by their noise-to-mask
// ratio; otherwise if there are none.
func worstMoment(moments []bs1387.Moment, otherwise float64) float64 {
	surest, most := 0.0, level.DB(math.Inf(-1))
	for _, m := range moments {
		surest = max(surest, m.Filtered)
	}
	for _, m := range moments {
		if m.Filtered >= surest-aboutAsSure {
			most = max(most, m.NoiseToMask)
		}
	}
	for _, m := range moments {
		if m.Filtered >= surest-aboutAsSure && m.NoiseToMask >= most-aboutAsBad {
			return m.Time
		}
	}
	return otherwise
}

// course joins neighbours of a series until it has at most [courseSteps] values,
// rounded to a hundredth of a percent.
func course(s bs1387.Series) Course {
	if len(s.Moments) == 0 {
		return Course{}
	}
	span := (len(s.Moments) + courseSteps - 1) / courseSteps
	c := Course{Step: s.Hop * float64(span), Start: s.Moments[0].Time + s.Hop*float64(span-1)/2}
	for i, m := range s.Moments {
		p := math.Round(1e4*m.Filtered) / 1e4
		if i%span == 0 {
			c.Probability = append(c.Probability, p)
			continue
		}
		last := &c.Probability[len(c.Probability)-1]
		*last = max(*last, p)
	}
	return c
}
