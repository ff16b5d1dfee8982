package audibility

import (
	"context"
	"fmt"
	"math"
	"sync"

	"quietcross/dsp/bs1387"
	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
)

// Point is one rendering: a current, and what is predicted of it.
type Point struct {
	// Quiescent is the quiescent current, A, and Bias the voltage at the bias
	// point, V.
	Quiescent float64 `json:"quiescent_a"`
	Bias      float64 `json:"bias_v"`
	// DPrime is the sensitivity d' with which the difference is told at its best
	// moment, and Detection the probability of noticing it, [hearing.Detection].
	DPrime    float64 `json:"d_prime"`
	Detection float64 `json:"detection"`
	// Strongest is where the difference stands out most.
	Strongest hearing.Place `json:"strongest"`
	// When says in which passages the difference is predicted to be heard.
	When When `json:"when"`
	// Verdict is the same in words, with the conditions.
	Verdict string `json:"verdict"`
	// Standard are the figures of ITU-R BS.1387; nil where they were not worked out,
	// at currents that a crossing was narrowed by.
	Standard *Standard `json:"bs1387,omitempty"`
	// Numbers are the simple figures of the rendering.
	Numbers map[string]float64 `json:"numbers,omitempty"`

	picture hearing.Picture
}

// over tells whether the point lies over a d'.
func (p *Point) over(limit float64) bool { return p.DPrime > limit }

// Standard is what ITU-R BS.1387 says of a rendering: the standard's figures, which no
// verdict rests on.
type Standard struct {
	// Detection is its probability of detection, 0 to 1 (MFPDB), which is no masked
	// threshold; see package bs1387.
	Detection float64 `json:"detection"`
	// NoiseToMask is the total noise-to-mask ratio.
	NoiseToMask level.DB `json:"noise_to_mask_db"`
	// Grade is the objective difference grade, 0 (imperceptible) to -3.98 (very
	// annoying), nil where it is not defined; see [bs1387.Result.Grade].
	Grade *float64 `json:"grade,omitempty"`
}

// Failure is a current at which there is no rendering.
type Failure struct {
	Quiescent float64 `json:"quiescent_a"`
	Reason    string  `json:"reason"`
}

// examiner renders and judges one case.
type examiner struct {
	options   Options
	limit     float64 // d'
	render    Render
	reference *hearing.Reference
	standard  *bs1387.Reference
	channels  int
	frames    int
	searched  bool           // over the range of the options
	flying    sync.WaitGroup // renderings begun ahead

	mutex   sync.Mutex
	finding *Finding
	known   map[float64]Point // by current, all that were judged
}

// knows returns what was judged at a current.
func (e *examiner) knows(quiescent float64) (Point, bool) {
	e.mutex.Lock()
	defer e.mutex.Unlock()
	p, ok := e.known[quiescent]
	return p, ok
}

// know keeps what was judged.
func (e *examiner) know(p Point) {
	e.mutex.Lock()
	defer e.mutex.Unlock()
	e.known[p.Quiescent] = p
}

// fail notes why there is no rendering.
func (e *examiner) fail(quiescent float64, reason string) {
	e.mutex.Lock()
	defer e.mutex.Unlock()
	e.finding.Failures = append(e.finding.Failures, Failure{quiescent, reason})
}

// A rendered is a current and its rendering, or why there is none.
type rendered struct {
	Rendering
	quiescent float64
	err       error
}

// look renders and judges one current, unless it is known.
func (e *examiner) look(ctx context.Context, quiescent float64) (Point, bool) {
	if p, ok := e.knows(quiescent); ok {
		return p, true
	}
	return e.judge(e.renderOne(ctx, quiescent))
}

// renderUnknown renders one current, unless what it would be judged is known.
func (e *examiner) renderUnknown(ctx context.Context, quiescent float64) rendered {
	if _, ok := e.knows(quiescent); ok {
		return rendered{quiescent: quiescent}
	}
	return e.renderOne(ctx, quiescent)
}

// renderOne renders one current.
func (e *examiner) renderOne(ctx context.Context, quiescent float64) rendered {
	rendering, err := e.render(ctx, quiescent)
	if err == nil {
		err = e.fits(rendering.Test)
	}
	return rendered{rendering, quiescent, err}
}

// judge lets the detection model compare a rendering with the reference. It returns
// false, having noted why, if there is none.
func (e *examiner) judge(r rendered) (Point, bool) {
	if p, ok := e.knows(r.quiescent); ok {
		return p, true
	}
	if r.err != nil {
		e.fail(r.quiescent, r.err.Error())
		return Point{}, false
	}
	result := e.reference.Compare(r.Test)
	if math.IsNaN(result.DPrime) {
		e.fail(r.quiescent, "rendering has samples that are not finite")
		return Point{}, false
	}
	when := Locate(&result, e.options.Limit, e.options.Excerpt)
	p := Point{
		Quiescent: r.quiescent,
		Bias:      r.Bias,
		DPrime:    result.DPrime,
		Detection: hearing.Detection(result.DPrime),
		Strongest: result.Strongest,
		When:      when,
		Verdict:   when.Verdict(e.options.Heard),
		Numbers:   finite(r.Numbers),
		picture:   result.Picture,
	}
	e.know(p)
	return p, true
}

// StandardOf takes the figures that are shown from a comparison by the standard; nil
// where it compared nothing.
func StandardOf(result bs1387.Result) *Standard {
	if result.Frames == 0 {
		return nil
	}
	s := &Standard{Detection: result.Detection, NoiseToMask: result.TotalNoiseToMask}
	if grade, ok := result.Grade(); ok {
		s.Grade = &grade
	}
	return s
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
