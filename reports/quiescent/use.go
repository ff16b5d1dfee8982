package quiescent

import (
	"context"
	"fmt"
	"math"
	"slices"

	"quietcross/corpus/bias"
	"quietcross/dsp/hearing"
	"quietcross/reports/audibility"
	"quietcross/reports/inspect"
	"quietcross/stage"
)

// A current that is set cold is not the one that plays the music. In use the stage comes to
// other currents: settled at rest, settled with the material, and in the quiet after a loud
// passage, when the junctions have cooled and the bias part has not; and so in the coldest
// and in the hottest air. What is heard over that range is read from the curves that the
// search has drawn, since a rendering knows of temperature only by the current that flows:
// the worst d' from the minimum to the maximum of the range counts. In the stage file's own
// air it has to stay under the limit with the prediction's margin, in the coldest and the
// hottest under the limit itself: the ends of the air are a margin of their own.
// Temperatures move within seconds to hours, while an ear judges moments, so that at each
// moment a steady current stands for the moving one. The second in which the junctions cool
// after a passage is left out: then more current flows than in any of these.

// The loud passage, as inspect shows it: a sine at the drive, from rest, and the quiet
// behind it, as long.
const (
	passageSeconds = inspect.PassageSeconds
	quietSeconds   = passageSeconds
)

// Use is what a stage comes to in use, and what is predicted of it.
type Use struct {
	// Own is the range in the stage file's own air, Any that with the coldest and the
	// hottest air.
	Own Span `json:"own_air"`
	Any Span `json:"any_air"`
	// Quiet is the minimum current in the quiet after a loud passage in the stage file's own
	// air, A, 0 where that was not worked out.
	Quiet float64 `json:"quiet_a,omitempty"`
}

// Span is a range of currents.
type Span struct {
	// Low and High are its ends, A; At is the current of it at which most is heard, A, and
	// Heard what.
	Low   float64 `json:"low_a"`
	High  float64 `json:"high_a"`
	At    float64 `json:"at_a"`
	Heard Heard   `json:"heard"`
}

// ends returns the ranges of the settled currents and that which was set; false where the
// stage does not settle in one of them.
func (r *Rung) ends() (u Use, ok bool) {
	u.Own = Span{Low: r.Quiescent, High: r.Quiescent}
	if !u.Own.take(&r.Rest, &r.Playing) {
		return Use{}, false
	}
	u.Any = u.Own
	return u, u.Any.take(&r.ColdAir, &r.Idle, &r.Programme)
}

// take widens a range to settled currents; false where the stage does not settle.
func (s *Span) take(settled ...*bias.Thermal) bool {
	for _, t := range settled {
		if t.Runaway() || !(t.Quiescent > 0) {
			return false
		}
		s.widen(t.Quiescent)
	}
	return true
}

func (s *Span) widen(quiescent float64) {
	s.Low, s.High = min(s.Low, quiescent), max(s.High, quiescent)
}

// read reads what is heard over both ranges; false unless every curve covers them.
func (u *Use) read(findings []audibility.Finding) bool {
	return u.Own.read(findings) && u.Any.read(findings)
}

func (s *Span) read(findings []audibility.Finding) (ok bool) {
	s.At, s.Heard, ok = read(findings, s.Low, s.High)
	return ok
}

// bars are the d' that what is heard may come to: with the prediction's margin cold and in
// the stage file's own air, and without in any air.
type bars struct{ under, limit float64 }

func (o *Options) bars() bars { return bars{o.under(), o.sensitivity()} }

func (r *Result) bars() bars {
	limit := hearing.Sensitivity(r.Limits.Detection)
	under, _ := r.Heard.Interval(limit)
	return bars{under, limit}
}

// meets tells whether a use stays under the bars.
func (u *Use) meets(b bars) bool {
	return u.Own.Heard.DPrime <= b.under && u.Any.Heard.DPrime <= b.limit
}

// use works out the use of every rung that settles and has none yet, or not with the quiet
// after a passage though it may be chosen. Where one that may goes beyond the curves, they
// are drawn to there.
func (c *climber) use(ctx context.Context, rec *Recommendation, result *Result) error {
	for i := range result.Rungs {
		r := &result.Rungs[i]
		if r.Quiescent == 0 || r.Refusal != "" || len(r.Heard) == 0 {
			continue
		}
		low, high := rec.bounds()
		may := inside(r.Quiescent, low, high) && len(r.Breaks) == 0 && r.quiet(c.options.under())
		if r.Use != nil && (r.Use.Quiet > 0 || !may) {
			continue
		}
		u, ok := r.ends()
		if !ok {
			continue
		}
		if may {
			if err := c.passage(&u, r.Quiescent); err != nil {
				return err
			}
			if err := c.reachUp(ctx, result, u.Any.High); err != nil {
				return err
			}
		}
		if u.read(result.Findings) {
			r.Use = &u
		}
	}
	return nil
}

// passage adds the quiet after a loud passage.
func (c *climber) passage(u *Use, quiescent float64) (err error) {
	if u.Quiet, err = c.afterwards(quiescent); err != nil {
		return err
	}
	u.Own.widen(u.Quiet)
	u.Any.widen(u.Quiet)
	return nil
}

// rounding is the ratio by which a current may lie beyond an end of the range of choice
// and still be that end.
const rounding = 1 + 1e-6

// inside tells whether a current lies in a range or at one of its ends.
func inside(quiescent, low, high float64) bool {
	return quiescent >= low/rounding && quiescent <= high*rounding
}

// reachUp draws the curves to a current where they end before it, if the stage's parts go
// so far.
func (c *climber) reachUp(ctx context.Context, result *Result, high float64) error {
	beyond := slices.ContainsFunc(result.Findings, func(f audibility.Finding) bool {
		return len(f.Curve) > 0 && f.Curve[len(f.Curve)-1].Quiescent < high
	})
	if !beyond || high > c.most {
		return nil
	}
	var err error
	result.Findings, err = whole(c.session.At(ctx, []float64{high}))
	return err
}

// afterwards returns the minimum current, A, in the quiet that follows a loud passage of a
// stage that had settled at rest.
func (c *climber) afterwards(quiescent float64) (float64, error) {
	e, err := c.ladder.At(bias.Current(quiescent))
	if err != nil {
		return 0, err
	}
	_, rest, err := e.WarmUp(c.stage.Conditions(stage.Sine(0)))
	if err != nil {
		return 0, err
	}
	conditions := c.stage.Conditions(stage.Sine(c.ladder.Drive()))
	d, err := e.Biased().Drift(stage.Course{Air: conditions.Air, Maximum: conditions.Maximum, From: rest.Heat(), Stretches: []stage.Stretch{
		{Seconds: passageSeconds, Signal: conditions.Signal}, {Seconds: quietSeconds, Signal: stage.Sine(0)},
	}})
	if err != nil {
		return 0, err
	}
	if d.GivenUp {
		return math.Inf(1), nil
	}
	return d.Minimum(passageSeconds, passageSeconds+quietSeconds).Quiescent, nil
}

// read returns the current from one to another, A, at which most is heard, and what; false
// unless every curve covers them.
func read(findings []audibility.Finding, low, high float64) (at float64, heard Heard, ok bool) {
	heard.DPrime = math.Inf(-1)
	for i := range findings {
		f := &findings[i]
		d, q, covered := f.Read(low, high)
		if !covered {
			return 0, Heard{}, false
		}
		if d > heard.DPrime {
			at, heard = q, Heard{Material: f.Material, Level: f.Level, DPrime: d, Detection: hearing.Detection(d)}
		}
	}
	return at, heard, len(findings) > 0
}

// quiet tells whether every piece at every level of a rung, cold, lies under a d'.
func (r *Rung) quiet(under float64) bool {
	return len(r.Heard) > 0 && !slices.ContainsFunc(r.Heard, func(h Heard) bool { return h.DPrime > under })
}

// clear is quiet over all that the rung comes to in use.
func (r *Rung) clear(b bars) bool {
	return r.quiet(b.under) && r.Use != nil && r.Use.meets(b)
}

// detection is the worst probability of noticing of a rung, cold and in use in any air;
// false where none was predicted.
func (r *Rung) detection() (float64, bool) {
	cold, ok := r.Worst()
	if r.Use != nil {
		return max(cold.Detection, r.Use.Own.Heard.Detection, r.Use.Any.Heard.Detection), ok
	}
	return cold.Detection, ok
}

// finely is the ratio of neighbouring currents at which it is looked where between two rungs
// what is heard in use comes to lie under the bars, or over them.
const finely = 1.02

// edgesOfUse returns currents between neighbouring rungs at which what is heard cold and in
// use comes to lie under the bars, or over them: a little inside what is under. Between two
// rungs the ends of the ranges run in straight lines of logarithms.
func edgesOfUse(result *Result, b bars, low, high float64) []float64 {
	var list []float64
	last, quiet := 0.0, false
	for i := 1; i < len(result.Rungs); i++ {
		from, to := &result.Rungs[i-1], &result.Rungs[i]
		if from.Use == nil || to.Use == nil {
			quiet = false
			continue
		}
		for q := max(from.Quiescent, low); q <= min(to.Quiescent, high); q *= finely {
			switch now := between(result.Findings, from, to, q).meetsAll(b); {
			case now && !quiet && last > 0:
				list = append(list, q*finely)
				fallthrough
			case now:
				quiet = true
			case quiet:
				list = append(list, last/finely)
				quiet = false
			}
			last = q
		}
	}
	return list
}

// interpolated is what is heard cold and in use at a current between two rungs.
type interpolated struct {
	cold Span
	use  Use
	ok   bool
}

func between(findings []audibility.Finding, from, to *Rung, q float64) *interpolated {
	part := math.Log(q/from.Quiescent) / math.Log(to.Quiescent/from.Quiescent)
	mix := func(a, b *Span) Span {
		return Span{Low: math.Pow(a.Low, 1-part) * math.Pow(b.Low, part), High: math.Pow(a.High, 1-part) * math.Pow(b.High, part)}
	}
	p := &interpolated{cold: Span{Low: q, High: q}, use: Use{Own: mix(&from.Use.Own, &to.Use.Own), Any: mix(&from.Use.Any, &to.Use.Any)}}
	p.ok = p.cold.read(findings) && p.use.read(findings)
	return p
}

func (p *interpolated) meetsAll(b bars) bool {
	return p.ok && p.cold.Heard.DPrime <= b.under && p.use.meets(b)
}

// words says what the stage comes to in use and what is heard there.
func (u *Use) words() string {
	text := "In use it comes to between " + amperes(u.Own.Low) + " and " + amperes(u.Own.High) + " in its own air"
	if u.Quiet > 0 {
		text += " (" + amperes(u.Quiet) + " in the quiet after a loud minute)"
	}
	return fmt.Sprintf("%s: noticed at most %s; from the coldest air to the hottest to between %s and %s: %s, at %s on %s", text,
		chance(u.Own.Heard.Detection), amperes(u.Any.Low), amperes(u.Any.High), chance(u.Any.Heard.Detection), amperes(u.Any.At),
		place(audibility.Finding{Material: u.Any.Heard.Material, Level: u.Any.Heard.Level}))
}

// steadier tries what would keep the stage near the current that it was set to, where the
// limit of audibility is met cold and not in use: the bias part coupled more closely or
// less, and a larger sink, each by as little as does it.
func (c *climber) steadier(r *Recommendation, result *Result) ([]Remedy, error) {
	spec := c.stage.Spec()
	tries := changes(spec)
	tries = append(tries, change{tries[1].key, "", tries[1].field, looseCoupling, false, "looser coupling of the bias part to the sink"})
	var list []Remedy
	for _, try := range tries {
		if try.audible {
			continue
		}
		remedy := Remedy{Key: try.key, Unit: try.unit, For: []Binding{BindsUse}, From: *try.field(&spec), To: try.limit}
		for _, at := range c.coldOnly(r, result) {
			remedy.Quiescent = at
			meets := func(value float64) bool {
				spec := c.stage.Spec()
				*try.field(&spec) = value
				return c.steadyWith(spec, result, at)
			}
			if remedy.From != try.limit && meets(try.limit) {
				remedy.To, remedy.Works = minimumChange(remedy.From, try.limit, meets), true
				break
			}
		}
		remedy.Note = try.note + noteOf(&remedy, c.options.Limits.Detection)
		list = append(list, remedy)
	}
	return list, nil
}

// looseCoupling is the least coupling that a stage file may give, beside none.
const looseCoupling = 0.001

// steadyWith tells whether a changed stage, set to a current, meets the limits of heat and
// that of audibility with its margin over all that it comes to in use.
func (c *climber) steadyWith(spec stage.Spec, result *Result, quiescent float64) bool {
	other, err := c.with(spec)
	if err != nil {
		return false
	}
	rung := Rung{Quiescent: quiescent}
	if err := other.heat(&rung); err != nil || len(other.breaks(&rung)) > 0 {
		return false
	}
	use, ok := rung.ends()
	if !ok || other.passage(&use, quiescent) != nil {
		return false
	}
	return use.read(result.Findings) && use.meets(c.options.bars())
}

// coldOnly are the currents that meet every limit but that of audibility in use.
func (c *climber) coldOnly(r *Recommendation, result *Result) []float64 {
	var list []float64
	for i := range result.Rungs {
		g := &result.Rungs[i]
		if low, high := r.bounds(); g.Refusal == "" && inside(g.Quiescent, low, high) && len(g.Breaks) == 0 &&
			g.quiet(c.options.under()) && !g.clear(c.options.bars()) {
			list = append(list, g.Quiescent)
		}
	}
	return list
}
