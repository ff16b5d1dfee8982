package audibility

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"

	"quietcross/dsp/bs1387"
	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
)

// The search. The curve begins with no current and the currents of the lattice, but for
// those that decide nothing (drawn.go). Between two neighbours on different sides of the
// limit a straight line through the two points of log d' over log current says where to
// look next, or the logarithmic middle where that has not halved the interval, until it is
// as small as asked for; the crossing is then where the line through its ends meets the
// limit. The first crossing that falls is the threshold. From there its interval is looked
// for on the curve as known by then: downwards for the first point over the limit times
// the factor of the listener's interval, upwards for the first under the limit divided by
// it, each narrowed in the same way, more coarsely, and no further where a rendering shows
// that the line was right.

// Examine searches one case. Trouble with the case itself is in the finding; the
// error is that of the options or of a context that has ended.
func Examine(ctx context.Context, c Case, o Options) (Finding, error) {
	if err := o.Check(); err != nil {
		return Finding{}, err
	}
	return examine(ctx, c, o, o.Standard, func(e *examiner) { e.search(ctx) })
}

// ExamineAt predicts one case at currents in ascending order, A, 0 standing for no bias at
// all, without looking for crossings. Errors are as of [Examine]; [Options.Low] and
// [Options.High] are not looked at.
func ExamineAt(ctx context.Context, c Case, currents []float64, o Options) (Finding, error) {
	if err := o.checkHearing(); err != nil {
		return Finding{}, err
	}
	return examine(ctx, c, o, o.Standard, func(e *examiner) { e.draw(ctx, currents) })
}

// examine opens a case, with the standard's figures if asked for, lets look do its work,
// and says what was found.
func examine(ctx context.Context, c Case, o Options, standard bool, look func(*examiner)) (Finding, error) {
	f, _ := begin(ctx, c, o, standard, look)
	return f, ctx.Err()
}

// begin is examine, with the examiner that may look further.
func begin(ctx context.Context, c Case, o Options, standard bool, look func(*examiner)) (Finding, *examiner) {
	e := &examiner{options: o, limit: hearing.Sensitivity(o.Limit), known: map[float64]Point{}}
	e.finding = e.blank(c.Material, c.Level)
	if err := e.open(ctx, c, standard); err != nil {
		e.finding.Error = err.Error()
	}
	return e.find(look), e
}

// blank is a finding with nothing found.
func (e *examiner) blank(material string, l level.DB) *Finding {
	return &Finding{Material: material, Level: l, Heard: e.options.Heard, Limit: e.options.Limit, Duration: float64(e.frames) / EarRate}
}

// find lets look do its work on an open case and says what was found.
func (e *examiner) find(look func(*examiner)) Finding {
	if e.finding.Error == "" {
		look(e)
		e.finding.show()
		e.conclude()
	}
	e.finding.Summary = e.finding.summary()
	return *e.finding
}

// conclude says what follows from the curve beside its crossings, and lets the pictures go
// that are not shown.
func (e *examiner) conclude() {
	f := e.finding
	f.drop()
	slices.SortFunc(f.Failures, func(a, b Failure) int { return cmp.Compare(a.Quiescent, b.Quiescent) })
	f.Rises = rises(f.Curve)
	f.Correlations = correlate(f.Curve)
	f.Beside = f.beside()
	if e.searched {
		f.Unrendered = e.unrendered()
	}
}

// open hears the reference once, by the standard as well if asked for.
func (e *examiner) open(ctx context.Context, c Case, standard bool) error {
	reference, render, err := c.Open(ctx)
	if err != nil {
		return err
	}
	e.render, e.channels = render, len(reference)
	if e.channels > 0 {
		e.frames = len(reference[0])
	}
	if err := e.fits(reference); err != nil {
		return fmt.Errorf("reference: %w", err)
	}
	e.finding.Duration = float64(e.frames) / EarRate
	if e.reference, err = hearing.NewReference(e.options.Heard.Config(EarRate, e.channels), reference); err != nil || !standard {
		return err
	}
	e.standard, err = bs1387.NewReference(bs1387.Config{
		Rate: bs1387.Rate, PlaybackSPL: e.options.Heard.Playback, Channels: e.channels,
	}, reference)
	return err
}

// search draws the curve, narrows its crossings and finds the threshold.
func (e *examiner) search(ctx context.Context) {
	e.trace(ctx)
	e.cross(ctx)
}

// cross narrows the crossings of a curve that is drawn and finds the threshold.
func (e *examiner) cross(ctx context.Context) {
	e.searched = true
	drawn := slices.Clone(e.finding.Curve)
	for i := 1; i < len(drawn); i++ {
		if drawn[i-1].over(e.limit) != drawn[i].over(e.limit) {
			e.finding.Crossings = append(e.finding.Crossings, e.narrow(ctx, drawn[i-1], drawn[i], e.limit, e.options.Tolerance))
		}
	}
	if i := slices.IndexFunc(e.finding.Crossings, func(c Crossing) bool { return !c.Rising }); i >= 0 {
		c := e.finding.Crossings[i]
		e.finding.Threshold = &Threshold{c, e.interval(ctx, c)}
	}
}

// draw adds currents to the curve, with the standard's figures where they are asked for.
func (e *examiner) draw(ctx context.Context, currents []float64) {
	for r := range e.renderAll(ctx, currents) {
		if p, ok := e.judge(r); ok {
			if e.standard != nil && p.Standard == nil && r.Test != nil {
				p.Standard = StandardOf(e.standard.Compare(r.Test))
				e.known[p.Quiescent] = p
			}
			e.insert(p)
		}
	}
}

// renderAll renders one current after the other, each while the one before is
// judged, or as many at once as workers are spare, until all are done or the context has
// ended. The channel must be read to its end.
func (e *examiner) renderAll(ctx context.Context, currents []float64) <-chan rendered {
	ahead := make(chan rendered)
	known := make([]bool, len(currents)) // asked here, for what is judged meanwhile becomes known
	for i, quiescent := range currents {
		_, known[i] = e.known[quiescent]
	}
	begun := make(chan chan rendered, e.options.spare())
	go func() {
		defer close(begun)
		for i, quiescent := range currents {
			if ctx.Err() != nil {
				return
			}
			one := make(chan rendered, 1)
			begun <- one
			if known[i] {
				one <- rendered{quiescent: quiescent}
				continue
			}
			go func() { one <- e.renderOne(ctx, quiescent) }()
		}
	}()
	go func() {
		defer close(ahead)
		for one := range begun {
			ahead <- <-one
		}
	}()
	return ahead
}

// narrow closes in on the crossing of a d' between two points on different sides of it,
// to a ratio of currents. Where the curve is not monotone between the two, it finds one
// of the crossings. Currents without a rendering end the narrowing, and no current at
// all has no logarithm.
func (e *examiner) narrow(ctx context.Context, low, high Point, limit, tolerance float64) Crossing {
	return e.closeIn(ctx, low, high, limit, tolerance, 0)
}

// roughly is narrow, and ends as soon as a rendering moves the crossing by no more than a
// third of the tolerance.
func (e *examiner) roughly(ctx context.Context, low, high Point, limit, tolerance float64) Crossing {
	return e.closeIn(ctx, low, high, limit, tolerance, math.Log1p(tolerance)/3)
}

// closeIn is narrow; it ends where a rendering moves the logarithm of the crossing by no more
// than still.
func (e *examiner) closeIn(ctx context.Context, low, high Point, limit, tolerance, still float64) Crossing {
	gains := true
	for low.Quiescent > 0 && high.Quiescent > low.Quiescent*(1+tolerance) && ctx.Err() == nil {
		at := math.Sqrt(low.Quiescent * high.Quiescent)
		if gains {
			at = probe(low, high, limit, tolerance)
		}
		middle, ok := e.look(ctx, at)
		if !ok {
			break
		}
		e.insert(middle)
		before, width := crossing(low, high, limit).Quiescent, math.Log(high.Quiescent/low.Quiescent)
		if middle.over(limit) == low.over(limit) {
			low = middle
		} else {
			high = middle
		}
		if math.Abs(math.Log(crossing(low, high, limit).Quiescent/before)) < still {
			break
		}
		gains = math.Log(high.Quiescent/low.Quiescent) < width/2
	}
	return crossing(low, high, limit)
}

// insert adds a point to the curve.
func (e *examiner) insert(p Point) {
	at, _ := e.finding.place(p.Quiescent)
	e.finding.Curve = slices.Insert(e.finding.Curve, at, p)
}

// probe returns the current between two points to look at next: that of the straight
// line, moved by part of the tolerance to the farther point, so that the crossing comes
// to lie between two near ones.
func probe(low, high Point, limit, tolerance float64) float64 {
	part := between(low.DPrime, high.DPrime, limit)
	at := low.Quiescent * math.Pow(high.Quiescent/low.Quiescent, part)
	step := math.Pow(1+tolerance, 0.4)
	if part < 0.5 {
		return min(at*step, math.Sqrt(at*high.Quiescent))
	}
	return max(at/step, math.Sqrt(at*low.Quiescent))
}

// between returns where a straight line from d' low to d' high, both as logarithms, meets
// a limit between them, 0 to 1; the middle where one is nothing.
func between(low, high, limit float64) float64 {
	from, to := math.Abs(math.Log(low/limit)), math.Abs(math.Log(high/limit))
	if math.IsInf(from, 1) || math.IsInf(to, 1) || from+to == 0 {
		return 0.5
	}
	return from / (from + to)
}

// crossing is that of a d' between two neighbouring points.
func crossing(low, high Point, limit float64) Crossing {
	c := Crossing{Low: low.Quiescent, High: high.Quiescent, Quiescent: high.Quiescent, Bias: high.Bias, Rising: high.over(limit)}
	if low.Quiescent > 0 {
		part := between(low.DPrime, high.DPrime, limit)
		c.Quiescent = low.Quiescent * math.Pow(high.Quiescent/low.Quiescent, part)
		c.Bias = low.Bias + part*(high.Bias-low.Bias)
	}
	return c
}

// intervalTolerance is the ratio, less one, to which the ends of an interval are
// bracketed, unless the line through two points tells them sooner.
const intervalTolerance = 0.15

// interval finds between which currents a threshold lies.
func (e *examiner) interval(ctx context.Context, threshold Crossing) Interval {
	easy, hard := e.options.Heard.Interval(e.limit)
	curve := slices.Clone(e.finding.Curve)
	split := slices.IndexFunc(curve, func(p Point) bool { return p.Quiescent >= threshold.High })
	bounds := Interval{High: curve[len(curve)-1].Quiescent, Open: true}
	for i := split - 1; i >= 0; i-- {
		if curve[i].over(hard) {
			bounds.Low = e.roughly(ctx, curve[i], curve[i+1], hard, intervalTolerance).Quiescent
			break
		}
	}
	for i := split; i < len(curve); i++ {
		if !curve[i].over(easy) {
			bounds.High, bounds.Open = e.roughly(ctx, curve[i-1], curve[i], easy, intervalTolerance).Quiescent, false
			break
		}
	}
	return bounds
}
