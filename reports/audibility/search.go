package audibility

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"quietcross/dsp/bs1387"
)

// Examine searches one case. Trouble with the case itself is in the finding; the
// error is that of the options or of a context that has ended.
func Examine(ctx context.Context, c Case, o Options) (Finding, error) {
	if err := o.check(); err != nil {
		return Finding{}, err
	}
	f := Finding{Material: c.Material, Level: c.Level, Playback: o.Playback, Limit: o.Limit}
	if err := f.examine(ctx, c, o); err != nil {
		f.Error = err.Error()
	}
	f.Summary = f.summary()
	return f, ctx.Err()
}

// examine fills in the finding.
func (f *Finding) examine(ctx context.Context, c Case, o Options) error {
	reference, render, err := c.Open(ctx)
	if err != nil {
		return err
	}
	e := &examiner{options: o, render: render, signal: reference, channels: len(reference), finding: f}
	if e.channels > 0 {
		e.frames = len(reference[0])
	}
	if err := e.fits(reference); err != nil {
		return fmt.Errorf("reference: %w", err)
	}
	f.Duration = float64(e.frames) / bs1387.Rate
	e.reference, err = bs1387.NewReference(bs1387.Config{
		Rate: bs1387.Rate, PlaybackSPL: o.Playback, Channels: e.channels,
	}, reference)
	if err != nil {
		return err
	}
	e.search(ctx)
	slices.SortFunc(f.Failures, func(a, b Failure) int { return cmp.Compare(a.Quiescent, b.Quiescent) })
	f.Rises = rises(f.Curve)
	f.Correlations = correlate(f.Curve)
	return nil
}

// search draws the curve and narrows its crossings.
func (e *examiner) search(ctx context.Context) {
	var coarse []Point
	for r := range e.renderAll(ctx, e.options.currents()) {
		if p, ok := e.judge(r, e.options.Contrast); ok {
			coarse = append(coarse, p)
		}
	}
	e.finding.Curve = slices.Clone(coarse)
	for i := 1; i < len(coarse); i++ {
		if e.audible(coarse[i-1]) != e.audible(coarse[i]) {
			e.narrow(ctx, coarse[i-1], coarse[i])
		}
	}
	slices.SortFunc(e.finding.Curve, func(a, b Point) int { return cmp.Compare(a.Quiescent, b.Quiescent) })
	for _, c := range e.finding.Crossings {
		if !c.Rising {
			e.finding.Threshold = &c
			return
		}
	}
}

// renderAll renders one current after the other, each while the one before is
// judged, until all are done or the context has ended. The channel must be read to
// its end.
func (e *examiner) renderAll(ctx context.Context, currents []float64) <-chan rendered {
	ahead := make(chan rendered)
	go func() {
		defer close(ahead)
		for _, quiescent := range currents {
			if ctx.Err() != nil {
				return
			}
			ahead <- e.renderOne(ctx, quiescent)
		}
	}()
	return ahead
}

func (e *examiner) audible(p Point) bool { return p.Detection > e.options.Limit }

// narrow halves the logarithmic interval between two points on different sides
// of the limit until it is as small as asked for, and notes the crossing. Where
// the probability is not monotone between the two, it finds one of the
// crossings. Currents without a rendering end the narrowing, and no current at
// all has no logarithm.
func (e *examiner) narrow(ctx context.Context, low, high Point) {
	for low.Quiescent > 0 && high.Quiescent > low.Quiescent*(1+e.options.Tolerance) && ctx.Err() == nil {
		middle, ok := e.judge(e.renderOne(ctx, math.Sqrt(low.Quiescent*high.Quiescent)), false)
		if !ok {
			break
		}
		e.finding.Curve = append(e.finding.Curve, middle)
		if e.audible(middle) == e.audible(low) {
			low = middle
		} else {
			high = middle
		}
	}
	c := Crossing{
		Low: low.Quiescent, High: high.Quiescent, Quiescent: high.Quiescent,
		Bias: (low.Bias + high.Bias) / 2, Rising: e.audible(high),
	}
	if low.Quiescent > 0 {
		c.Quiescent = math.Sqrt(low.Quiescent * high.Quiescent)
	}
	e.finding.Crossings = append(e.finding.Crossings, c)
}
