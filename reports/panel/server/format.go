package server

import (
	"html/template"
	"math"
	"time"

	"quietcross/dsp/level"
	"quietcross/reports/view/caution"
	"quietcross/reports/view/format"
)

// formatters are the functions of the templates.
var formatters = template.FuncMap{
	"fixed":    fixed,
	"percent":  func(x float64) string { return format.Fixed(100*x, 0) + "\u00a0%" },
	"hundred":  func(x float64) string { return format.Fixed(100*x, 0) },
	"chance":   chance,
	"decibels": decibels,
	"current":  current,
	"volts":    volts,
	"day":      func(t time.Time) string { return t.Local().Format("2 Jan 2006") },
	"minute":   func(t time.Time) string { return t.Local().Format("2 Jan 2006 15:04") },
	"number":   func(x float64) bool { return !math.IsNaN(x) },
	"roleName": roleName,
	"clock":    func(t time.Time) string { return t.Local().Format("15:04") },
	"chart":    chart,
	"hearing":  func() string { return caution.Paragraph(caution.Listening()) },
	"style":    func() template.CSS { return template.CSS(resultStyle) },
}

func fixed(digits int, x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "–"
	}
	return format.Fixed(x, digits)
}

// chance prints a probability that may be very small.
func chance(p float64) string {
	if p < 0.0001 {
		return "<0.0001"
	}
	return fixed(4, p)
}

// decibels prints a residual; an end that the answers do not bound is infinite.
func decibels(x float64) string {
	switch {
	case math.IsInf(x, -1):
		return "below the set"
	case math.IsInf(x, 1):
		return "above the set"
	}
	return format.DB(level.DB(x))
}

// current prints amperes.
func current(x float64) string {
	switch {
	case math.IsNaN(x):
		return "outside the set"
	case x == 0:
		return "0\u00a0mA"
	}
	return format.Quantity(x, "A")
}

// volts prints a bias; it changes by millivolts, so three decimals.
func volts(x float64) string {
	if math.IsNaN(x) {
		return "outside the set"
	}
	return format.Fixed(x, 3) + "\u00a0V"
}

// roleName is what a graded item is called.
func roleName(r Role) string {
	switch r {
	case Hidden:
		return "hidden reference"
	case Anchor:
		return "low anchor"
	case MidAnchor:
		return "mid anchor"
	}
	return "rendered"
}
