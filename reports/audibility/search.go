package audibility

import (
	"cmp"
	"context"
	"fmt"
	"math"
	"slices"
	"sync"

	"quietcross/dsp/bs1387"
	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
)

// The search. The curve begins with no current and the currents of the lattice, but for
// those that decide nothing (drawn.go). Between two neighbours on different sides of the
// limit a straight line through the two points of log d' over log current says where the
// crossing should be; a little to either side of that is looked next, at the side that
// leaves the shorter bracket first and at the other if the crossing does lie between, or at
// the logarithmic middle where two such looks have not halved the bracket, until it is
// as small as asked for; the crossing is then where the line through its ends meets the
// limit. The first crossing that falls is the threshold. From there its interval is looked
// for on the curve as known by then: downwards for the first point over the limit times
// the factor of the listener's interval, upwards for the first under the limit divided by
// it, each narrowed by one side of the line at a time, more coarsely, and no further where a
// rendering shows that the line was right. Workers that have no case of their own render
// what is looked at next anyway, or may be, which does not change what is found.

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
		e.flying.Wait()
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
		e.put(r)
	}
}

// put adds a rendering to the curve, with the standard's figures where they are asked for.
func (e *examiner) put(r rendered) {
	p, ok := e.judge(r)
	if !ok {
		return
	}
	if e.standard != nil && p.Standard == nil && r.Test != nil {
		p.Standard = StandardOf(e.standard.Compare(r.Test))
		e.know(p)
	}
	e.insert(p)
}

// renderAll renders one current after the other, each while the one before is
// judged, or as many at once as workers are spare, until all are done or the context has
// ended. The channel must be read to its end.
func (e *examiner) renderAll(ctx context.Context, currents []float64) <-chan rendered {
	ahead := make(chan rendered)
	begun := make(chan chan rendered, e.options.spare())
	go func() {
		defer close(begun)
		for _, quiescent := range currents {
			if ctx.Err() != nil {
				return
			}
			one := make(chan rendered, 1)
			begun <- one
			go func() { one <- e.renderUnknown(ctx, quiescent) }()
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

// mostMissed is how many looks by the straight line may fail to halve a bracket before it is
// halved by its middle.
const mostMissed = 2

// narrow closes in on the crossing of a d' between two points on different sides of it,
// to a ratio of currents. Where the curve is not monotone between the two, it finds one
// of the crossings. Currents without a rendering end the narrowing, and no current at
// all has no logarithm.
func (e *examiner) narrow(ctx context.Context, low, high Point, limit, tolerance float64) Crossing {
	for missed := 0; wider(low, high, tolerance) && ctx.Err() == nil; {
		width := math.Log(high.Quiescent / low.Quiescent)
		first, second := about(low, high, limit, tolerance)
		if missed == mostMissed {
			first, second = math.Sqrt(low.Quiescent*high.Quiescent), 0
		}
		after := e.ahead(ctx, second)
		p, ok := e.look(ctx, first)
		if !ok {
			break
		}
		if low, high = e.side(low, high, p, limit); low.Quiescent < second && second < high.Quiescent && wider(low, high, tolerance) {
			if p, ok = e.judge(after()); !ok {
				break
			}
			low, high = e.side(low, high, p, limit)
		}
		if math.Log(high.Quiescent/low.Quiescent) > width/2 {
			missed = min(missed+1, mostMissed)
		}
	}
	return crossing(low, high, limit)
}

// wider tells whether two points are farther apart than a ratio of currents, less one, and
// have logarithms.
func wider(low, high Point, tolerance float64) bool {
	return low.Quiescent > 0 && high.Quiescent > low.Quiescent*(1+tolerance)
}

// side adds a point between two to the curve and returns the two that the crossing of a d'
// lies between now.
func (e *examiner) side(low, high, p Point, limit float64) (Point, Point) {
	e.insert(p)
	if p.over(limit) == low.over(limit) {
		return p, high
	}
	return low, p
}

// ahead begins to render a current, none for 0, if a worker is spare, and returns what waits
// for that or else renders it.
func (e *examiner) ahead(ctx context.Context, quiescent float64) func() rendered {
	if quiescent == 0 || e.options.spare() == 0 {
		return func() rendered { return e.renderOne(ctx, quiescent) }
	}
	one := make(chan rendered, 1)
	e.flying.Go(func() { one <- e.renderOne(ctx, quiescent) })
	return func() rendered { return <-one }
}

// roughly closes in on a crossing from one side of the straight line at a time, and ends as
// soon as a rendering moves the crossing by no more than a third of the tolerance.
func (e *examiner) roughly(ctx context.Context, low, high Point, limit, tolerance float64) Crossing {
	gains := true
	for wider(low, high, tolerance) && ctx.Err() == nil {
		at := math.Sqrt(low.Quiescent * high.Quiescent)
		if gains {
			at, _ = about(low, high, limit, tolerance)
		}
		middle, ok := e.look(ctx, at)
		if !ok {
			break
		}
		before, width := crossing(low, high, limit).Quiescent, math.Log(high.Quiescent/low.Quiescent)
		low, high = e.side(low, high, middle, limit)
		if math.Abs(math.Log(crossing(low, high, limit).Quiescent/before)) < math.Log1p(tolerance)/3 {
			break
		}
		gains = math.Log(high.Quiescent/low.Quiescent) < width/2
	}
	return crossing(low, high, limit)
}

// insert adds a point to the curve.
func (e *examiner) insert(p Point) {
	e.mutex.Lock()
	defer e.mutex.Unlock()
	at, _ := e.finding.place(p.Quiescent)
	e.finding.Curve = slices.Insert(e.finding.Curve, at, p)
}

// about returns the currents between two points to look at next: that of the straight
// line, moved by part of the tolerance to the farther point, so that the crossing comes
// to lie between two near ones, and to the nearer one; 0 for that where the line says nothing.
func about(low, high Point, limit, tolerance float64) (first, second float64) {
	part := between(low.DPrime, high.DPrime, limit)
	at := low.Quiescent * math.Pow(high.Quiescent/low.Quiescent, part)
	step := math.Pow(1+tolerance, 0.4)
	up, down := min(at*step, math.Sqrt(at*high.Quiescent)), max(at/step, math.Sqrt(at*low.Quiescent))
	switch {
	case low.DPrime == 0 || high.DPrime == 0:
		return at, 0
	case part < 0.5:
		return up, down
	}
	return down, up
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
	e.both(
		func() {
			for i := split - 1; i >= 0; i-- {
				if curve[i].over(hard) {
					bounds.Low = e.roughly(ctx, curve[i], curve[i+1], hard, intervalTolerance).Quiescent
					break
				}
			}
		},
		func() {
			for i := split; i < len(curve); i++ {
				if !curve[i].over(easy) {
					bounds.High, bounds.Open = e.roughly(ctx, curve[i-1], curve[i], easy, intervalTolerance).Quiescent, false
					break
				}
			}
		})
	return bounds
}

// both does two things that do not depend on each other, at once if a worker is spare.
func (e *examiner) both(one, other func()) {
	if e.options.spare() == 0 {
		one()
		other()
		return
	}
	var group sync.WaitGroup
	group.Go(one)
	other()
	group.Wait()
}
