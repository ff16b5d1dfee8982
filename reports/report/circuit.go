package report

import (
	"fmt"
	"html/template"

	"quietcross/reports/view/format"
	"quietcross/reports/view/schematic"
)

// circuit is the stage's drawing with its operating point, one a rung.
type circuit struct {
	Drawings []drawing
	// Chosen is the rung shown first: the optimum, or the first that has a
	// drawing.
	Chosen int
	// Note says what a circuit solved in time means for the residual.
	Note string
}

type drawing struct {
	Rung    rungView
	SVG     template.HTML
	Caption string
}

// newCircuit draws the stage at every rung that has an operating point; nil where
// there is none to draw.
func newCircuit(r *Report, rungs []rungView) *circuit {
	c := &circuit{Chosen: -1}
	if r.Solver == "dynamic" {
		c.Note = "Solved in time. The reference is " + referenceText(r.Solver) + "."
	}
	for k := range r.Rungs {
		rung := &r.Rungs[k]
		if rung.Point == nil {
			continue
		}
		f := schematic.Figure{Name: fmt.Sprintf("circuit-%d", k), Spec: rung.Trimmed, Setting: rung.StageSetting(), Point: *rung.Point}
		svg, err := f.SVG()
		if err != nil {
			continue // a circuit without a drawing
		}
		if c.Chosen < 0 || rung.IsOptimum() {
			c.Chosen = k
		}
		c.Drawings = append(c.Drawings, drawing{rungs[k], template.HTML(svg), restText(rung)}) // the schematic escapes every text
	}
	if len(c.Drawings) == 0 {
		return nil
	}
	return c
}

// restText says how the stage rests.
func restText(rung *Rung) string {
	return fmt.Sprintf("With no signal: bias %s, quiescent current %s, %s drawn from the supplies.",
		format.Digits(rung.Bias, 4, "V"), format.Quantity(rung.Quiescent, "A"), format.Quantity(rung.IdleDissipation, "W"))
}
