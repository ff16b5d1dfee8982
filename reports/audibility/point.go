package audibility

import (
	"context"
	"fmt"
	"math"

	"quietcross/dsp/bs1387"
	"quietcross/dsp/level"
)

// Point is one rendering: a current, and what is predicted of it.
type Point struct {
	// Quiescent is the quiescent current, A, and Bias the voltage at the bias
	// point, V.
	Quiescent float64 `json:"quiescent_a"`
	Bias      float64 `json:"bias_v"`
	// Detection is the probability of detection, 0 to 1 (MFPDB of BS.1387).
	Detection float64 `json:"detection"`
	// NoiseToMask is the total noise-to-mask ratio.
	NoiseToMask level.DB `json:"noise_to_mask_db"`
	// Grade is the objective difference grade, 0 (imperceptible) to -3.98 (very
	// annoying), nil where it is not defined; see [bs1387.Result.Grade].
	Grade *float64 `json:"grade,omitempty"`
	// When says in which passages the difference is predicted to be heard.
	When When `json:"when"`
	// Verdict is the same in words, with the conditions.
	Verdict string `json:"verdict"`
	// Numbers are the simple figures of the rendering.
	Numbers map[string]float64 `json:"numbers,omitempty"`
}

// Failure is a current at which there is no rendering.
type Failure struct {
	Quiescent float64 `json:"quiescent_a"`
	Reason    string  `json:"reason"`
}

// examiner renders and judges one case.
type examiner struct {
	options   Options
	render    Render
	signal    [][]float64
	reference *bs1387.Reference
	channels  int
	frames    int
	finding   *Finding
}

// A rendered is a current and its rendering, or why there is none.
type rendered struct {
	Rendering
	quiescent float64
	err       error
}

// renderOne renders one current.
func (e *examiner) renderOne(ctx context.Context, quiescent float64) rendered {
	rendering, err := e.render(ctx, quiescent)
	if err == nil {
		err = e.fits(rendering.Test)
	}
	return rendered{rendering, quiescent, err}
}

// judge lets the ear model compare a rendering with the reference, with a second
// opinion if asked for. It returns false, having noted why, if there is none.
func (e *examiner) judge(r rendered, contrast bool) (Point, bool) {
	rendering, quiescent := r.Rendering, r.quiescent
	if r.err != nil {
		e.finding.Failures = append(e.finding.Failures, Failure{quiescent, r.err.Error()})
		return Point{}, false
	}
	result := e.reference.Compare(rendering.Test)
	if math.IsNaN(result.Detection) {
		e.finding.Failures = append(e.finding.Failures, Failure{quiescent, "rendering has samples that are not finite"})
		return Point{}, false
	}
	numbers := finite(rendering.Numbers)
	if contrast {
		numbers[ContrastNumber] = e.decorrelation(rendering.Test)
	}
	when := Locate(&result, e.options.Limit, e.options.Excerpt)
	point := Point{
		Quiescent:   quiescent,
		Bias:        rendering.Bias,
		Detection:   result.Detection,
		NoiseToMask: result.TotalNoiseToMask,
		When:        when,
		Verdict:     when.Verdict(e.options.Playback),
		Numbers:     numbers,
	}
	if grade, ok := result.Grade(); ok {
		point.Grade = &grade
	}
	return point, true
}

// decorrelation returns what of a test does not correlate with the reference, 0
// to about 1; 0 for silence.
func (e *examiner) decorrelation(test [][]float64) float64 {
	c, err := bs1387.NewCorrelator(bs1387.Config{Rate: bs1387.Rate, Channels: e.channels})
	if err != nil {
		panic(err) // the same configuration has served for the reference
	}
	c.Add(e.signal, test)
	r := c.Result()
	if r.Frames == 0 {
		return 0
	}
	return 1 - r.Mean
}

// finite returns the entries of numbers that are finite.
func finite(numbers map[string]float64) map[string]float64 {
	kept := make(map[string]float64, len(numbers))
	for name, x := range numbers {
		if !math.IsNaN(x) && !math.IsInf(x, 0) {
			kept[name] = x
		}
	}
	return kept
}

// fits returns an error unless signal can be compared with the reference.
func (e *examiner) fits(signal [][]float64) error {
	if len(signal) != e.channels {
		return fmt.Errorf("found %d channels, the reference has %d", len(signal), e.channels)
	}
	for i, x := range signal {
		if len(x) != e.frames {
			return fmt.Errorf("channel %d has %d frames, the reference %d", i, len(x), e.frames)
		}
	}
	return nil
}
