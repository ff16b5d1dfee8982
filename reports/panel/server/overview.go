package server

import (
	"html/template"
	"math"

	"quietcross/reports/view/format"
)

// The overview of a graded panel: one row a material, the grades of all its biases along
// the scale with their intervals, and the predicted grade as an open diamond beside each.

const (
	overviewLeft, overviewRight = 190.0, 630.0
	overviewRow                 = 16.0 // height of one item
)

// Overview draws the grades of all materials, "" without grades.
func (r *Results) Overview() template.HTML {
	rows := 0
	for i := range r.Materials {
		if n := len(r.Materials[i].Grades); n > 0 {
			rows += n + 1
		}
	}
	if rows == 0 {
		return ""
	}
	bottom := 24 + float64(rows)*overviewRow
	d := &drawing{lo: 1, hi: 5}
	d.add(`<svg class="chart" viewBox="0 0 %g %g" role="img" aria-label="Grades by material and bias">`, chartWidth, bottom+48)
	for g, word := range []string{"very annoying", "annoying", "slightly annoying", "perceptible", "imperceptible"} {
		x := gradeX(float64(g + 1))
		d.add(`<path class="grid" d="M%.1f 20V%.1f"/><text class="mid" x="%.1f" y="%.1f">%d</text><text class="mid" x="%.1f" y="%.1f">%s</text>`, x, bottom, x, bottom+16, g+1, x, bottom+30, word)
	}
	y := 24.0
	for i := range r.Materials {
		if m := &r.Materials[i]; len(m.Grades) > 0 {
			y = d.grades(m, y)
		}
	}
	d.add(`<text class="mid" x="%g" y="%.1f">circles: mean grade by ear with its 95 %% interval; diamonds: predicted grade</text></svg>`, (overviewLeft+overviewRight)/2, bottom+44)
	return template.HTML(d.String()) // numbers and fixed words, and names escaped
}

func gradeX(grade float64) float64 {
	return overviewLeft + (grade-1)/4*(overviewRight-overviewLeft)
}

// grades draws a material's items from y on and returns where the next begins.
func (d *drawing) grades(m *MaterialResult, y float64) float64 {
	d.add(`<text class="material" x="4" y="%.1f">%s</text>`, y+overviewRow-4, template.HTMLEscapeString(m.Material))
	y += overviewRow
	for _, g := range m.Grades {
		name := roleName(g.Role)
		if g.Role != Hidden {
			name += ", " + current(g.Place.Quiescent)
		}
		middle := y + overviewRow/2
		d.add(`<text class="end" x="%g" y="%.1f">%s</text>`, overviewLeft-12, middle+4, name)
		if i := g.Grade.Interval; !math.IsInf(i.Lo, 0) && !math.IsNaN(i.Lo) {
			d.add(`<path class="ear" d="M%.1f %.1fH%.1f"/>`, gradeX(i.Lo), middle, gradeX(i.Hi))
		}
		if !math.IsNaN(g.Grade.Mean) {
			d.add(`<circle class="ear" cx="%.1f" cy="%.1f" r="4"><title>%s</title></circle>`, gradeX(g.Grade.Mean), middle, format.Fixed(g.Grade.Mean, 2))
		}
		if !math.IsNaN(g.Predicted) {
			d.add(`<path class="predicted" d="M%.1f %.1fl5 5-5 5-5-5z"/>`, gradeX(g.Predicted), middle-5)
		}
		y += overviewRow
	}
	return y
}
