package quiescent

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"quietcross/reports/audibility"
)

// Binding names the limit that a current meets first.
type Binding string

// The limits that can bind.
const (
	BindsNothing   Binding = "none"
	BindsHearing   Binding = "audibility"
	BindsUse       Binding = "audibility in use" // met cold, and not where the stage drifts to
	BindsJunction  Binding = "junction temperature"
	BindsStability Binding = "thermal stability"
	BindsIdle      Binding = "idle power"
	BindsSweep     Binding = "end of the sweep" // none up to there
	BindsCircuit   Binding = "operating point"
)

// Recommendation is the range of currents that meets all limits, and the one to set.
type Recommendation struct {
	// Minimum is the minimum current at which no piece at any level is predicted
	// audible, A, and MinimumBy the piece, or the part of a library, that asks for it.
	Minimum      float64 `json:"minimum_a"`
	MinimumKnown bool    `json:"minimum_known"`
	MinimumBy    string  `json:"minimum_by"`
	// Expected is the interval of the threshold that Minimum is, nil where it is none.
	Expected *audibility.Interval `json:"minimum_interval,omitempty"`
	// Margin is the minimum current at which the upper end of the prediction's interval
	// stays under the limit for every piece at every level, A: what hearing asks for.
	Margin      float64 `json:"margin_a"`
	MarginKnown bool    `json:"margin_known"`
	MarginBy    string  `json:"margin_by"`
	// InUse is the minimum current that meets the limit of audibility in use too, A, where
	// none up to the numerically best does; 0 otherwise.
	InUse float64 `json:"in_use_a,omitempty"`
	// Ceilings are the maximum current of each limit of heat that any current breaks, and
	// Maximum the least of them, A, or where the sweep ends; MaximumBy is what binds there.
	Ceilings  []Ceiling `json:"ceilings,omitempty"`
	Maximum   float64   `json:"maximum_a"`
	MaximumBy Binding   `json:"maximum_by"`
	// Optimum is the current of the textbook's optimum-bias condition, A, 0 where the part
	// values give none; Counted are the resistances it counts and those that it does not.
	Optimum float64      `json:"optimum_a"`
	Counted []Resistance `json:"counted,omitempty"`
	// Balance is where the solved stage's gain at rest equals
	// that at half drive, which the condition stands for, 0 where it nowhere does.
	Balance float64 `json:"balance_a"`
	// Best is the numerically best current of this stage, A: where Rung.Distortion has its
	// minimum.
	Best float64 `json:"best_a"`
	// Met tells that a current meets all limits. Set is then the current to set, Why the
	// reason that decided it, and Down and Up are a quarter less and more, which are among
	// the rungs too; 0 where the stage cannot be set to them.
	Met  bool    `json:"met"`
	Set  float64 `json:"set_a"`
	Why  Reason  `json:"why,omitempty"`
	Down float64 `json:"down_a"`
	Up   float64 `json:"up_a"`
	// Binds says which limits leave no range where Met is false: all of them.
	Binds []Binding `json:"binds,omitempty"`
	// Built is where the stage file as given lies; nil where it has no operating point.
	Built *Built `json:"as_built,omitempty"`
	// Warnings are in words: over-bias and others.
	Warnings []string `json:"warnings,omitempty"`
}

// Ceiling is the maximum current that meets a limit of heat, A; 0 where none does.
type Ceiling struct {
	Limit   Binding `json:"limit"`
	Maximum float64 `json:"maximum_a"`
}

// recommend finds the range.
func (c *climber) recommend(findings []audibility.Finding, rungs []Rung) (Recommendation, error) {
	r := Recommendation{Optimum: c.stage.OptimumQuiescent(), Counted: counted(c.stage)}
	var err error
	if r.Balance, err = c.balance(); err != nil {
		return r, err
	}
	var asks *audibility.Finding
	if r.Minimum, asks, r.MinimumKnown = minimumInaudible(findings); asks != nil {
		r.MinimumBy = place(*asks)
		if t := asks.Threshold; t != nil && t.Quiescent == r.Minimum {
			r.Expected = &t.Interval
		}
	}
	if r.Margin, asks, r.MarginKnown = minimumClear(findings, c.options.under(), r.Minimum); asks != nil {
		r.MarginBy = place(*asks)
	}
	r.MarginKnown = r.MarginKnown && r.MinimumKnown
	if c.options.Library != nil {
		c.options.Library.ask(&r)
	}
	if r.Best, err = c.best(rungs); err != nil {
		return r, err
	}
	asked := 0.0
	if r.MarginKnown {
		asked = r.Margin
	}
	r.Ceilings, r.Maximum, r.MaximumBy = c.ceilings(rungs, asked)
	r.Warnings = append(overBias(rungs, r.Best), rises(findings)...)
	r.Built, err = c.asBuilt()
	return r, err
}

// minimumInaudible returns the minimum current at which no finding is predicted audible,
// and the finding that asks for it, nil where none does; false when there is no such
// current in the sweep.
func minimumInaudible(findings []audibility.Finding) (minimum float64, by *audibility.Finding, known bool) {
	for {
		i := slices.IndexFunc(findings, func(f audibility.Finding) bool { return len(f.Curve) == 0 || f.Audible(minimum) })
		if i < 0 {
			return minimum, by, true
		}
		by = &findings[i]
		ends := slices.IndexFunc(by.Crossings, func(c audibility.Crossing) bool { return !c.Rising && c.Quiescent > minimum })
		if ends < 0 {
			return 0, by, false
		}
		minimum = by.Crossings[ends].Quiescent
	}
}

// minimumClear returns the minimum current, from one on, at which every finding's d' lies
// under some value, by straight lines between the points of the curves, and the finding
// that asks for it.
func minimumClear(findings []audibility.Finding, under, from float64) (minimum float64, by *audibility.Finding, known bool) {
	minimum = from
	for moved := true; moved; {
		moved = false
		for i := range findings {
			at, ok := clearFrom(findings[i].Curve, under, minimum)
			if !ok {
				return 0, &findings[i], false
			}
			if at > minimum {
				minimum, by, moved = at, &findings[i], true
			}
		}
	}
	return minimum, by, true
}

// clearFrom returns the least current from one on at which a curve lies under a d'.
func clearFrom(curve []audibility.Point, under, from float64) (float64, bool) {
	for i := range curve {
		switch p := &curve[i]; {
		case p.Quiescent < from:
		case i > 0 && curve[i-1].Quiescent < from && audibility.Along(&curve[i-1], p, from) <= under:
			return from, true
		case p.DPrime > under:
		case i == 0 || p.Quiescent == from:
			return max(from, p.Quiescent), true
		default:
			return max(from, meet(&curve[i-1], p, under)), true
		}
	}
	return 0, false
}

// meet is where a line in logarithms between two points passes a d' that the first lies
// over: the second's current where it does not, or cannot be told.
func meet(a, b *audibility.Point, under float64) float64 {
	part := math.Log(a.DPrime/under) / math.Log(a.DPrime/b.DPrime)
	if !(a.Quiescent > 0) || !(a.DPrime > under) || !(part > 0 && part < 1) {
		return b.Quiescent
	}
	return a.Quiescent * math.Pow(b.Quiescent/a.Quiescent, part)
}

func place(f audibility.Finding) string {
	return fmt.Sprintf("%s at %.0f dB", f.Material, float64(f.Level))
}

// breaks returns the limits of heat that a rung breaks.
func (c *climber) breaks(r *Rung) []Binding {
	if r.Refusal != "" {
		return []Binding{BindsCircuit}
	}
	limits := c.options.Limits
	var list []Binding
	if r.Idle.Runaway() || r.Idle.Stability() > limits.Feedback {
		list = append(list, BindsStability)
	}
	if limits.Idle != nil && r.Idle.Supply > *limits.Idle {
		list = append(list, BindsIdle)
	}
	if r.Sine.Runaway() || max(r.Sine.Junction, r.Programme.Junction, r.Idle.Junction) > limits.Junction {
		list = append(list, BindsJunction)
	}
	return list
}

// meets returns the first limit of heat that a rung breaks.
func (c *climber) meets(r *Rung) Binding {
	if list := c.breaks(r); len(list) > 0 {
		return list[0]
	}
	return BindsNothing
}

// currentTolerance is the ratio, less one, to which the maximum safe current and the
// numerically best one are closed in on.
const currentTolerance = 0.01

// ceilings returns the maximum current up to which every rung meets each limit of heat,
// in rising order, and what binds first. Rungs under what hearing asks for do not count: some
// stages cannot be set so low.
func (c *climber) ceilings(rungs []Rung, asked float64) ([]Ceiling, float64, Binding) {
	known := map[float64][]Binding{}
	at := func(quiescent float64) []Binding {
		if _, ok := known[quiescent]; !ok {
			middle := Rung{Quiescent: quiescent}
			if err := c.heat(&middle); err != nil {
				middle.Refusal = err.Error()
			}
			known[quiescent] = c.breaks(&middle)
		}
		return known[quiescent]
	}
	var list []Ceiling
	for _, limit := range []Binding{BindsStability, BindsIdle, BindsJunction, BindsCircuit} {
		low := 0.0
		for i := range rungs {
			if !slices.Contains(c.breaks(&rungs[i]), limit) {
				low = rungs[i].Quiescent
				continue
			}
			if rungs[i].Quiescent < asked {
				continue
			}
			low, _ = lastSafe(low, rungs[i].Quiescent, limit, func(quiescent float64) Binding {
				if slices.Contains(at(quiescent), limit) {
					return limit
				}
				return BindsNothing
			})
			list = append(list, Ceiling{limit, low})
			break
		}
	}
	slices.SortStableFunc(list, func(a, b Ceiling) int { return cmp.Compare(a.Maximum, b.Maximum) })
	if len(list) == 0 {
		return nil, rungs[len(rungs)-1].Quiescent, BindsSweep
	}
	return list, list[0].Maximum, list[0].Limit
}

// lastSafe bisects, by equal ratios, between a current that meets the limits and one
// that does not, for the last that does, and what binds above it. There is nothing to
// bisect from 0.
func lastSafe(low, high float64, binds Binding, meets func(quiescent float64) Binding) (float64, Binding) {
	for low > 0 && high > low*(1+currentTolerance) {
		middle := math.Sqrt(low * high)
		if b := meets(middle); b == BindsNothing {
			low = middle
		} else {
			high, binds = middle, b
		}
	}
	return low, binds
}

// balance returns the current at which the incremental gain at rest equals the full
// gain; 0 where they are nowhere equal, and for a lone device.
func (c *climber) balance() (float64, error) {
	if c.devices < 2 {
		return 0, nil // nothing is handed over
	}
	return c.stage.GainEqualQuiescent()
}

// crossingTolerance is the ratio, less one, to which a crossing is closed in on.
const crossingTolerance = 1e-4

// crossing bisects, by equal ratios, for where f rises through 0.
func crossing(f func(float64) (float64, error), low, high float64) (float64, error) {
	for high > low*(1+crossingTolerance) {
		middle := math.Sqrt(low * high)
		y, err := f(middle)
		if err != nil {
			return 0, err
		}
		if y < 0 {
			low = middle
		} else {
			high = middle
		}
	}
	return math.Sqrt(low * high), nil
}

// minimumRise is the ratio by which distortion must rise with current to be warned
// of.
const minimumRise = 1.1

// overBias warns where more current than the numerically best raises the distortion of a
// tone again: the stretch of the maximum rise at each level.
func overBias(rungs []Rung, best float64) []string {
	var list []string
	if len(rungs) == 0 {
		return nil
	}
	for l := range len(rungs[0].Tones) {
		from, to, ratio := maximumRise(rungs, l)
		if ratio > minimumRise && to > best {
			list = append(list, fmt.Sprintf("over-bias: at %.0f dB the THD of a tone rises %.1f-fold from %s to %s",
				float64(rungs[0].Tones[l].Level), ratio, amperes(from), amperes(to)))
		}
	}
	return list
}

// maximumRise returns the two currents between which the THD at a tone level
// rises most, later over earlier.
func maximumRise(rungs []Rung, l int) (from, to, ratio float64) {
	minimum, at := math.Inf(1), 0.0
	ratio = 1
	for _, r := range rungs {
		if r.Refusal != "" || r.Quiescent == 0 {
			continue
		}
		thd := r.Tones[l].THD
		if thd < minimum {
			minimum, at = thd, r.Quiescent
		}
		if thd/minimum > ratio {
			from, to, ratio = at, r.Quiescent, thd/minimum
		}
	}
	return from, to, ratio
}

// rises warns where more current makes detection more probable, to near the limit
// or beyond.
func rises(findings []audibility.Finding) []string {
	var list []string
	for _, f := range findings {
		for _, rise := range f.Rises {
			if !reaches(f, rise.To, f.Limit/2) {
				continue
			}
			list = append(list, fmt.Sprintf("more current from %s to %s makes a difference more probable to be heard, by %.2f: %s",
				amperes(rise.From), amperes(rise.To), rise.By, place(f)))
		}
	}
	return list
}

// reaches tells whether a finding's probability at a current is at least some
// value.
func reaches(f audibility.Finding, quiescent, probability float64) bool {
	for _, p := range f.Curve {
		if p.Quiescent == quiescent {
			return p.Detection >= probability
		}
	}
	return false
}
