package quiescent

import (
	"context"
	"fmt"
	"math"
	"slices"

	"quietcross/corpus/bias"
	"quietcross/dsp/hearing"
	"quietcross/reports/audibility"
	"quietcross/stage"
)

// A current that is set cold is not the one that plays the music. In use the stage comes to
// other currents: settled at rest in the coldest, in its own and in the hottest air, settled
// with the material in the hottest, and in the quiet after a loud passage, when the
// junctions have cooled and the bias part has not. What is heard over that range is read
// from the curves that the search has drawn, since a rendering knows of temperature only by
// the current that flows: the worst d' from the minimum to the maximum of the range counts,
// and the margin is the prediction's own. Temperatures move within seconds to hours, while
// an ear judges moments, so that at each moment a steady current stands for the moving one.
// The second in which the junctions cool after a passage is left out of the range: then more
// current flows than in any of these.

// The loud passage, as inspect shows it: a sine at the drive, from rest, and the quiet
// behind it.
const (
	passageSeconds = 60
	quietSeconds   = 60
)

// Use is the range of currents that a stage comes to in use, and what is predicted of it.
type Use struct {
	// Low and High are the minimum and the maximum current, A, Quiet the minimum of the quiet
	// after a loud passage, 0 where that was not worked out.
	Low   float64 `json:"low_a"`
	High  float64 `json:"high_a"`
	Quiet float64 `json:"quiet_a,omitempty"`
	// At is the current of the range at which most is heard, A, and Heard what.
	At    float64 `json:"at_a"`
	Heard Heard   `json:"heard"`
}

// ends returns the minimum and the maximum of the settled currents and that which was set;
// false where the stage does not settle in one of them.
func (r *Rung) ends() (low, high float64, ok bool) {
	low, high = r.Quiescent, r.Quiescent
	for _, t := range []*bias.Thermal{&r.ColdAir, &r.Rest, &r.Idle, &r.Programme} {
		if t.Runaway() || !(t.Quiescent > 0) {
			return 0, 0, false
		}
		low, high = min(low, t.Quiescent), max(high, t.Quiescent)
	}
	return low, high, true
}

// use works out the use of every rung that has none yet and settles. Where one that may be
// chosen goes beyond the curves, they are drawn to there.
func (c *climber) use(ctx context.Context, rec *Recommendation, result *Result) error {
	for i := range result.Rungs {
		r := &result.Rungs[i]
		if r.Use != nil || r.Quiescent == 0 || r.Refusal != "" || len(r.Heard) == 0 {
			continue
		}
		u := Use{}
		var ok bool
		if u.Low, u.High, ok = r.ends(); !ok {
			continue
		}
		low, high := rec.bounds()
		if may := r.Quiescent >= low/near2 && r.Quiescent <= high*near2 && len(r.Breaks) == 0 && r.quiet(c.options.under()); may {
			var err error
			if u.Quiet, err = c.afterwards(r.Quiescent); err != nil {
				return err
			}
			u.Low, u.High = min(u.Low, u.Quiet), max(u.High, u.Quiet)
			if err := c.reachUp(ctx, result, u.High); err != nil {
				return err
			}
		}
		if u.At, u.Heard, ok = read(result.Findings, u.Low, u.High); ok {
			r.Use = &u
		}
	}
	return nil
}

// near2 is what the ends of the range of choice are looked beyond by.
const near2 = 1 + 1e-6

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
	_, rest, err := bias.Settle(c.stage, e.Biased().Setting(), c.stage.Conditions(stage.Sine(0)))
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
func (r *Rung) clear(under float64) bool {
	return r.quiet(under) && r.Use != nil && r.Use.Heard.DPrime <= under
}

// detection is the worst probability of noticing of a rung, cold and in use; false where
// none was predicted.
func (r *Rung) detection() (float64, bool) {
	cold, ok := r.Worst()
	if r.Use != nil {
		return max(cold.Detection, r.Use.Heard.Detection), ok
	}
	return cold.Detection, ok
}

// edgesOfUse returns the currents between neighbouring rungs at which what is heard in use
// comes to lie under a d', or over it: a little inside what is under. Between two rungs the
// ends of the range run in straight lines of logarithms, as parts of the current set.
func edgesOfUse(result *Result, under float64) []float64 {
	var list []float64
	for i := 1; i < len(result.Rungs); i++ {
		a, b := &result.Rungs[i-1], &result.Rungs[i]
		if a.Use == nil || b.Use == nil || a.clear(under) == b.clear(under) {
			continue
		}
		over := func(q float64) bool {
			part := math.Log(q/a.Quiescent) / math.Log(b.Quiescent/a.Quiescent)
			mix := func(from, to float64) float64 { return math.Pow(from, 1-part) * math.Pow(to, part) }
			_, heard, ok := read(result.Findings, mix(a.Use.Low, b.Use.Low), mix(a.Use.High, b.Use.High))
			return !ok || heard.DPrime > under
		}
		bad, good := a.Quiescent, b.Quiescent
		if a.clear(under) {
			bad, good = good, bad
		}
		for math.Max(bad, good) > math.Min(bad, good)*(1+safeTolerance) {
			if middle := math.Sqrt(bad * good); over(middle) {
				bad = middle
			} else {
				good = middle
			}
		}
		if good > bad {
			list = append(list, good*nudged)
		} else {
			list = append(list, good/nudged)
		}
	}
	return list
}

// words says what the stage comes to in use and what is heard there.
func (u *Use) words() string {
	text := "In use it comes to between " + amperes(u.Low) + " and " + amperes(u.High)
	if u.Quiet > 0 {
		text += ", " + amperes(u.Quiet) + " in the quiet after a loud minute"
	}
	return fmt.Sprintf("%s: noticed at most %s, at %s (%s)", text, chance(u.Heard.Detection), amperes(u.At),
		place(audibility.Finding{Material: u.Heard.Material, Level: u.Heard.Level}))
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
	low, high, ok := rung.ends()
	if !ok {
		return false
	}
	quiet, err := other.afterwards(quiescent)
	if err != nil {
		return false
	}
	_, heard, ok := read(result.Findings, min(low, quiet), max(high, quiet))
	return ok && heard.DPrime <= c.options.under()
}

// coldOnly are the currents that meet every limit but that of audibility in use.
func (c *climber) coldOnly(r *Recommendation, result *Result) []float64 {
	var list []float64
	for i := range result.Rungs {
		g := &result.Rungs[i]
		if low, high := r.bounds(); g.Refusal == "" && g.Quiescent >= low/near2 && g.Quiescent <= high*near2 && len(g.Breaks) == 0 &&
			g.quiet(c.options.under()) && !g.clear(c.options.under()) {
			list = append(list, g.Quiescent)
		}
	}
	return list
}
