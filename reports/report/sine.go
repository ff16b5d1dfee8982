package report

import (
	"fmt"
	"math"

	"quietcross/dsp/shape"
	"quietcross/reports/sweep"
	"quietcross/stage"
)

// Sine is what a rung's law makes of a steady sine with the item's peak: the
// simple numbers that amplifiers are compared by, and how the output devices
// share the cycle.
type Sine struct {
	// THD is of all orders re the fundamental (IEC 60268-3, 14.12), a ratio.
	THD float64 `json:"thd"`
	// WeightedTHD is of a 400 Hz tone, the harmonics to order 20 through the
	// network of ITU-R BS.468-4.
	WeightedTHD float64 `json:"weighted_thd"`
	// OrderWeighted is of the orders to 20, each weighted by n²/4 (Shorter 1950).
	OrderWeighted float64 `json:"order_weighted"`
	// Gm is the metric of Geddes and Lee; nil where there is none, and GmRefusal
	// says why. It diverges for an ideal dead band.
	Gm        *float64 `json:"gm,omitempty"`
	GmRefusal string   `json:"gm_refusal,omitempty"`
	// Class is that of the output devices, by the minimum of their conduction
	// angles, Conduction, radians. Class is empty where they were not solved.
	Class      stage.Class `json:"class,omitempty"`
	Conduction float64     `json:"conduction_rad"`
}

const (
	// weightedAt is the fundamental of the weighted THD, Hz: the highest that
	// IEC 60268-3 defines it for.
	weightedAt = 400
	// lawTolerance is the error of a rung's law re the range that it is fitted
	// over; about rest it is a thousand times as tight.
	lawTolerance = 1e-7
	// wildest is the maximum peak re the drive for which a law is solved.
	wildest = 4
)

// solved is the stage at one rung; a nil biased could not be set.
type solved struct {
	biased *stage.Biased // at rest: fork it
	law    *shape.Law    // nil when it could not be fitted
}

// fork returns a stage at rest, whose answers do not depend on what was asked
// of others.
func (s solved) fork() *stage.Biased { return s.biased.Fork() }

// laws fits the midband law of every rung over the peaks of all items. What
// cannot be fitted has none, and a warning.
func (r *Report) laws() error {
	reach := 0.0
	for i := range r.Items {
		if r.solvable(r.Items[i].Peak) {
			reach = max(reach, r.Items[i].Peak)
		}
	}
	if reach == 0 {
		return nil
	}
	refusals := make([]string, len(r.solved))
	var tasks []func() error
	for i := range r.solved {
		if r.solved[i].biased == nil {
			continue
		}
		tasks = append(tasks, func() error {
			law, err := shape.Fit(r.solved[i].fork().Transfer, -reach, reach, lawTolerance*reach)
			if err != nil {
				refusals[i] = fmt.Sprintf("%s: no figures of a steady sine: %v", r.Rungs[i].ID, err)
				return nil
			}
			r.solved[i].law = law
			return nil
		})
	}
	err := together(tasks)
	for _, refusal := range refusals {
		if refusal != "" {
			r.Warnings = append(r.Warnings, refusal)
		}
	}
	return err
}

// solvable tells that a peak, V, is one that a stage can be asked about.
func (r *Report) solvable(peak float64) bool { return peak > 0 && peak <= wildest*r.Drive }

// sine measures a steady sine of an item's peak, V, at a rung; nil where there is
// no law. A note tells what is missing.
func (s solved) sine(peak float64) (figures *Sine, note string) {
	if s.law == nil || peak <= 0 {
		return nil, ""
	}
	if _, reach := s.law.Range(); peak > reach {
		return nil, ""
	}
	p := sweep.Measure(s.law, peak)
	figures = &Sine{THD: p.THD, WeightedTHD: p.WeightedTHD(weightedAt), OrderWeighted: p.OrderWeighted, Gm: p.Gm, GmRefusal: p.GmRefusal}
	if !figures.finite() {
		return nil, "no figures of a steady sine: next to nothing of it passes"
	}
	power, err := s.fork().Power(peak)
	if err != nil {
		return figures, fmt.Sprintf("no class: %v", err)
	}
	figures.Class, figures.Conduction = power.Class, 2*math.Pi
	for _, o := range s.biased.Outputs() {
		figures.Conduction = min(figures.Conduction, power.Devices[o].Conduction)
	}
	return figures, ""
}

// finite tells that all figures are numbers.
func (s *Sine) finite() bool {
	sum := s.THD + s.WeightedTHD + s.OrderWeighted
	if s.Gm != nil {
		sum += *s.Gm
	}
	return !math.IsNaN(sum) && !math.IsInf(sum, 0)
}
