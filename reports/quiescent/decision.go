package quiescent

import (
	"context"
	"math"
	"slices"

	"quietcross/dsp/bracket"
)

// The rule. Of the currents that meet every limit with its margin, that of audibility at
// the current that is set and over the range that the stage comes to in use (use.go), the
// one that costs least heat is taken, and moved up only as far as the gain is worth the
// heat: halving the distortion, or halving by how much the stage amplifies a drift of its
// current, is worth twice the power drawn at rest, and no more. It is never moved past the
// numerically best current of the stage, if hearing does not ask for more, and never lies
// under a part of that, since the material that was listened to is not all music. A current
// that another in the table beats in everything is not taken.

// The exchange, in doublings of the power at rest.
const (
	heatForDistortion = 1.0 // that halving the distortion is worth
	heatForStability  = 1.0 // that halving the amplification of drift is worth
)

// leastPart is the part of the numerically best current that a stage is set to at least.
const leastPart = 0.1

// A Reason says what decided the current to set.
type Reason string

// The reasons.
const (
	ByHeat     Reason = "least heat"                 // nothing above it is worth its heat
	ByExchange Reason = "a gain worth its heat"      // moved up from the least heat
	ByBest     Reason = "the numerically best point" // moved up until there
)

// under returns the d' under which the upper end of the interval of a prediction meets the
// limit of audibility.
func (o *Options) under() float64 {
	easy, _ := o.Heard.Interval(o.sensitivity())
	return easy
}

// amplification is by how much a stage at rest amplifies a drift of its current.
func (r *Rung) amplification() float64 {
	gain := r.Idle.Stability()
	if gain >= 1 {
		return math.Inf(1)
	}
	return 1 / (1 - max(gain, 0))
}

// price is what a rung costs, in doublings of the power at rest.
func (r *Rung) price() float64 {
	return math.Log2(r.Rest.Supply) + heatForDistortion*math.Log2(max(r.Distortion, leastTHD)) + heatForStability*math.Log2(r.amplification())
}

// beats tells whether a rung is as good as another in detection, the THD at each level,
// the power at rest and stability, and better in one of them.
func (r *Rung) beats(other *Rung) bool {
	mine, ok := r.detection()
	theirs, have := other.detection()
	if r.Refusal != "" || other.Refusal != "" || !ok || !have {
		return false
	}
	better, worse := false, false
	weigh := func(a, b float64) { better, worse = better || a < b, worse || a > b }
	weigh(mine, theirs)
	for i := range r.Tones {
		weigh(r.Tones[i].THD, other.Tones[i].THD)
	}
	weigh(r.Rest.Supply, other.Rest.Supply)
	weigh(r.Idle.Stability(), other.Idle.Stability())
	return better && !worse
}

// leastTHD is the THD under which the figures of a solved stage are rounding.
const leastTHD = 1e-9

// best returns the current of least distortion, A, of those that meet the limits of heat,
// or of all where none does: closed in on between the neighbours of the best rung.
func (c *climber) best(rungs []Rung) (float64, error) {
	var list []*Rung
	at := 0
	some := slices.ContainsFunc(rungs, func(r Rung) bool { return r.Quiescent > 0 && len(r.Breaks) == 0 })
	for i := range rungs {
		if r := &rungs[i]; r.Quiescent > 0 && r.Refusal == "" && len(r.Tones) > 0 {
			list = append(list, r)
			if r.Distortion < list[at].Distortion && !(some && len(r.Breaks) > 0) {
				at = len(list) - 1
			}
		}
	}
	switch {
	case len(list) == 0:
		return 0, nil
	case at == 0 || at == len(list)-1:
		return list[at].Quiescent, nil
	}
	found, least, err := bracket.Minimum(func(x float64) (float64, error) {
		r := Rung{Quiescent: math.Exp(x)}
		_, err := c.harmonics(&r)
		return math.Log(max(r.Distortion, leastTHD)), err
	}, math.Log(list[at-1].Quiescent), math.Log(list[at+1].Quiescent), currentTolerance)
	if err != nil || least > math.Log(list[at].Distortion) {
		return list[at].Quiescent, err
	}
	return math.Exp(found), nil
}

// bounds are the currents between which one is chosen.
func (r *Recommendation) bounds() (low, high float64) {
	low = max(r.Margin, r.InUse, min(leastPart*r.Best, r.Maximum))
	return low, min(max(r.Best, nudged*low), r.Maximum)
}

// candidate tells whether a rung may be chosen.
func (c *climber) candidate(r *Recommendation, g *Rung) bool {
	low, high := r.bounds()
	return g.Refusal == "" && g.Quiescent > 0 && inside(g.Quiescent, low, high) &&
		len(g.Breaks) == 0 && c.heardWell(r, g)
}

// heardWell tells whether a rung meets the limit of audibility with its margin: where a
// library asks, by its current alone.
func (c *climber) heardWell(r *Recommendation, g *Rung) bool {
	if c.options.Library == nil {
		return g.clear(c.options.bars())
	}
	return g.Use != nil && g.Use.Own.Low >= r.Margin
}

// decide returns the place of the rung to set; -1 where none may be.
func (c *climber) decide(r *Recommendation, rungs []Rung) (int, Reason) {
	least, chosen := -1, -1
	for i := range rungs {
		g := &rungs[i]
		beaten := slices.ContainsFunc(rungs, func(other Rung) bool { return other.beats(g) })
		if !c.candidate(r, g) || beaten {
			continue
		}
		if least < 0 || g.Rest.Supply < rungs[least].Rest.Supply {
			least = i
		}
		if chosen < 0 || g.price() < rungs[chosen].price() {
			chosen = i
		}
	}
	switch {
	case chosen < 0 || chosen == least:
		return chosen, ByHeat
	case rungs[chosen].Quiescent >= r.Best/rounding:
		return chosen, ByBest
	}
	return chosen, ByExchange
}

// quarter is how far the neighbours of the current to set lie from it, a part of it.
const quarter = 0.25

// settle chooses among the rungs, to which it adds those that the choice rests on: what
// hearing asks for with its margin, cold and in use, the textbook's optimum, the
// numerically best, and what lies a quarter below and above the current to set, where all
// material is rendered; and looks again until the choice stays, which it does since each
// other one adds currents, and those are told apart by a thousandth.
func (c *climber) settle(ctx context.Context, r *Recommendation, result *Result) error {
	low, high := r.bounds()
	if err := c.extend(ctx, result, nudged*low, high, r.Optimum, r.Best, r.built()); err != nil {
		return err
	}
	if c.options.Library == nil {
		if err := c.extend(ctx, result, edgesOfUse(result, c.options.bars(), low, r.Maximum)...); err != nil {
			return err
		}
		if err := c.raise(ctx, r, result); err != nil {
			return err
		}
	}
	if !r.MarginKnown || nudged*low > r.Maximum {
		return nil
	}
	for {
		at, why := c.decide(r, result.Rungs)
		if at < 0 {
			return nil
		}
		r.Met, r.Why = true, why
		if r.Set == result.Rungs[at].Quiescent {
			return nil
		}
		r.Set = result.Rungs[at].Quiescent
		r.Down, r.Up = (1-quarter)*r.Set, (1+quarter)*r.Set
		if err := c.extend(ctx, result, r.Down, r.Up); err != nil {
			return err
		}
		if err := c.confirm(ctx, result, r.Set); err != nil {
			return err
		}
	}
}

// confirm renders all material at a current of the table, unless that was done, so that what
// is said of it is read between no others.
func (c *climber) confirm(ctx context.Context, result *Result, quiescent float64) (err error) {
	rung := result.at(quiescent)
	if !slices.ContainsFunc(rung.Heard, func(h Heard) bool { return h.Read }) {
		return nil
	}
	if result.Findings, err = whole(c.session.At(ctx, []float64{quiescent})); err != nil {
		return err
	}
	rung.Heard, _ = heardAt(result.Findings, rung.Quiescent)
	return nil
}

// raise moves what hearing asks for up to the first current that meets its limit in use,
// where none does between what it asks for cold and the numerically best.
func (c *climber) raise(ctx context.Context, r *Recommendation, result *Result) error {
	low, _ := r.bounds()
	for i := range result.Rungs {
		g := &result.Rungs[i]
		if !inside(g.Quiescent, low, r.Maximum) || len(g.Breaks) > 0 || !g.clear(c.options.bars()) {
			continue
		}
		if c.candidate(r, g) {
			return nil
		}
		before := r.InUse
		r.InUse = g.Quiescent
		if err := c.use(ctx, r, result); err != nil { // with the quiet after a passage
			return err
		}
		if c.candidate(r, g) {
			return nil
		}
		r.InUse = before
	}
	return nil
}

// nudged is what a current at the very edge of a limit is multiplied by, since its
// renderings are not those that the edge was found between.
const nudged = 1.02

// built is the current of the stage as built, A, 0 where it has none.
func (r *Recommendation) built() float64 {
	if r.Built == nil {
		return 0
	}
	return r.Built.Quiescent
}

// near is the ratio, less one, within which a current is in the table already.
const near = 1e-3

// extend adds currents to the rungs, with what is heard there, which is rendered where the
// curves leave it open. Currents that are there, or that lie beyond the sweep, are left out.
func (c *climber) extend(ctx context.Context, result *Result, currents ...float64) error {
	var list []float64
	slices.Sort(currents)
	for _, q := range currents {
		there := func(have float64) bool { return math.Abs(have-q) <= near*q }
		known := slices.ContainsFunc(result.Rungs, func(r Rung) bool { return there(r.Quiescent) }) || slices.ContainsFunc(list, there)
		if q >= c.low*(1-near) && q <= c.high*(1+near) && !known {
			list = append(list, q)
		}
	}
	if len(list) == 0 {
		return c.use(ctx, &result.Recommendation, result)
	}
	added, err := c.evaluate(ctx, list, func() {})
	if err != nil {
		return err
	}
	if result.Findings, err = whole(c.session.Decide(ctx, list)); err != nil {
		return err
	}
	result.Rungs = sorted(append(result.Rungs, added...))
	result.listened()
	return c.use(ctx, &result.Recommendation, result)
}

// listened puts what is heard into the rungs that lack it.
func (r *Result) listened() {
	for i := range r.Rungs {
		if g := &r.Rungs[i]; g.Heard == nil && g.Refusal == "" {
			g.Heard, _ = heardAt(r.Findings, g.Quiescent)
		}
	}
}
