package quiescent

import (
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
	BindsJunction  Binding = "junction temperature"
	BindsStability Binding = "thermal stability"
	BindsIdle      Binding = "idle power"
	BindsSweep     Binding = "end of the sweep" // none up to there
	BindsCircuit   Binding = "operating point"
)

// Recommendation is the range of currents that meets all limits.
type Recommendation struct {
	// Minimum is the minimum current at which no piece at any level is predicted
	// audible, and Maximum the maximum that meets the thermal limits, A. MinimumBy
	// is the piece, or the part of a library, that asks for it, MaximumBy the limit that
	// binds above.
	Minimum      float64 `json:"minimum_a"`
	MinimumKnown bool    `json:"minimum_known"`
	MinimumBy    string  `json:"minimum_by"`
	// Expected is the interval of the threshold that Minimum is, nil where it is none.
	Expected  *audibility.Interval `json:"minimum_interval,omitempty"`
	Maximum   float64              `json:"maximum_a"`
	MaximumBy Binding              `json:"maximum_by"`
	// Optimum is the current of the optimum-bias condition, A, 0 where the part
	// values give none; Balance is where the solved stage's gain at rest equals
	// that at half drive, which the condition stands for, 0 where it nowhere does.
	Optimum float64 `json:"optimum_a"`
	Balance float64 `json:"balance_a"`
	// Met tells that Minimum does not lie above Maximum. Set is then the current to
	// set: the optimum, or the end of the range nearest to it; without an optimum
	// twice Minimum, for a margin.
	Met bool    `json:"met"`
	Set float64 `json:"set_a"`
	// Binds says which limits leave no range where Met is false.
	Binds []Binding `json:"binds,omitempty"`
	// Warnings are in words: over-bias and others.
	Warnings []string `json:"warnings,omitempty"`
}

// margin is how far over the minimum current a stage without an optimum is set.
const margin = 2

// recommend finds the range.
func (c *climber) recommend(findings []audibility.Finding, rungs []Rung) (Recommendation, error) {
	r := Recommendation{Optimum: c.stage.OptimumQuiescent()}
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
	if c.options.Library != nil {
		c.options.Library.ask(&r)
	}
	if r.Maximum, r.MaximumBy, err = c.maximumSafe(rungs); err != nil {
		return r, err
	}
	r.Met = r.MinimumKnown && r.Minimum <= r.Maximum && r.Maximum > 0
	if r.Met {
		r.Set = r.choice(c.low)
	} else {
		r.Binds = []Binding{BindsHearing}
		if r.MinimumKnown || r.Maximum == 0 {
			r.Binds = append(r.Binds, r.MaximumBy)
		}
	}
	r.Warnings = append(overBias(rungs), rises(findings)...)
	return r, nil
}

// choice returns the current to set in a range that there is; low is the minimum of
// the sweep, A, which stands for none where nothing is heard at all.
func (r *Recommendation) choice(low float64) float64 {
	if r.Optimum == 0 {
		return min(max(margin*r.Minimum, low), r.Maximum)
	}
	return min(max(r.Optimum, r.Minimum), r.Maximum)
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

func place(f audibility.Finding) string {
	return fmt.Sprintf("%s at %.0f dB", f.Material, float64(f.Level))
}

// meets returns the first limit that a rung breaks, of those of heat.
func (c *climber) meets(r *Rung) Binding {
	limits := c.options.Limits
	switch {
	case r.Refusal != "":
		return BindsCircuit
	case r.Idle.Runaway() || r.Idle.Stability() > limits.Feedback:
		return BindsStability
	case limits.Idle != nil && r.Idle.Supply > *limits.Idle:
		return BindsIdle
	case r.Sine.Runaway() || max(r.Sine.Junction, r.Programme.Junction, r.Idle.Junction) > limits.Junction:
		return BindsJunction
	}
	return BindsNothing
}

// safeTolerance is the ratio, less one, to which the maximum safe current is
// closed in on.
const safeTolerance = 0.01

// maximumSafe returns the maximum current up to which every rung meets the
// thermal limits, and what binds above it.
func (c *climber) maximumSafe(rungs []Rung) (float64, Binding, error) {
	low := 0.0
	for i := range rungs {
		r := &rungs[i]
		binds := c.meets(r)
		if binds == BindsNothing {
			low = r.Quiescent
			continue
		}
		low, binds = lastSafe(low, r.Quiescent, binds, func(quiescent float64) Binding {
			middle := Rung{Quiescent: quiescent}
			if err := c.heat(&middle); err != nil {
				middle.Refusal = err.Error()
			}
			return c.meets(&middle)
		})
		return low, binds, nil
	}
	return low, BindsSweep, nil
}

// lastSafe bisects, by equal ratios, between a current that meets the limits and one
// that does not, for the last that does, and what binds above it. There is nothing to
// bisect from 0.
func lastSafe(low, high float64, binds Binding, meets func(quiescent float64) Binding) (float64, Binding) {
	for low > 0 && high > low*(1+safeTolerance) {
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

// overBias warns where more current raises the distortion of a tone again: the
// stretch of the maximum rise at each level.
func overBias(rungs []Rung) []string {
	var list []string
	if len(rungs) == 0 {
		return nil
	}
	for l := range len(rungs[0].Tones) {
		from, to, ratio := maximumRise(rungs, l)
		if ratio > minimumRise {
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
