package report

import (
	"fmt"
	"math"

	"quietcross/corpus/bias"
	"quietcross/stage"
)

// Sine is what a rung makes of a steady sine with the item's peak: the simple
// numbers that amplifiers are compared by, and how the output devices share the
// cycle.
type Sine struct {
	bias.Simple
	// Class is that of the output devices, by the minimum of their conduction
	// angles, Conduction, radians. Class is empty where they were not solved.
	Class      stage.Class `json:"class,omitempty"`
	Conduction float64     `json:"conduction_rad"`
}

// wildest is the maximum peak re the drive that a stage is asked about.
const wildest = 4

// solvable tells that a peak, V, is one that a stage can be asked about.
func (r *Report) solvable(peak float64) bool { return peak > 0 && peak <= wildest*r.Drive }

// sine measures a steady sine of an item's peak, V, at a rung; nil where there is
// none. A note tells what is missing.
func sine(e *bias.Evaluation, peak float64) (figures *Sine, note string) {
	simple, err := e.Simple(peak)
	if err != nil {
		return nil, fmt.Sprintf("no figures of a steady sine: %v", err)
	}
	figures = &Sine{Simple: simple}
	if !figures.finite() {
		return nil, "no figures of a steady sine: next to nothing of it passes"
	}
	power, err := e.Biased().Power(peak)
	if err != nil {
		return figures, fmt.Sprintf("no class: %v", err)
	}
	figures.Class, figures.Conduction = power.Class, 2*math.Pi
	for _, o := range e.Biased().Outputs() {
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
