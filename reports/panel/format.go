package panel

import (
	"fmt"
	"html/template"
	"math"
	"strings"
	"time"
)

// formatters are the functions of the templates: the one place where numbers
// get prefixes and words.
var formatters = template.FuncMap{
	"fixed":    fixed,
	"percent":  func(x float64) string { return fmt.Sprintf("%.0f %%", 100*x) },
	"chance":   chance,
	"decibels": decibels,
	"current":  current,
	"volts":    volts,
	"day":      func(t time.Time) string { return t.Local().Format("2 Jan 2006") },
	"minute":   func(t time.Time) string { return t.Local().Format("2 Jan 2006 15:04") },
	"chart":    chart,
	"style":    func() template.CSS { return template.CSS(resultStyle) },
}

func fixed(digits int, x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return "–"
	}
	return minus(fmt.Sprintf("%.*f", digits, x))
}

// chance prints a probability that may be very small.
func chance(p float64) string {
	if p < 0.0001 {
		return "<0.0001"
	}
	return fixed(4, p)
}

// minus sets a proper minus sign.
func minus(text string) string { return strings.Replace(text, "-", "−", 1) }

func decibels(x float64) string {
	switch {
	case math.IsInf(x, -1):
		return "below the set"
	case math.IsInf(x, 1):
		return "above the set"
	}
	return fixed(1, x) + " dB"
}

// current prints amperes with three digits and a prefix.
func current(x float64) string {
	switch {
	case math.IsNaN(x):
		return "outside the set"
	case x == 0:
		return "0 mA"
	case math.Abs(x) < 1e-3:
		return fmt.Sprintf("%.3g µA", x*1e6)
	case math.Abs(x) < 0.9995:
		return fmt.Sprintf("%.3g mA", x*1e3)
	}
	return fmt.Sprintf("%.3g A", x)
}

// volts prints a bias; it changes by millivolts, so three decimals.
func volts(x float64) string {
	if math.IsNaN(x) {
		return "outside the set"
	}
	return fixed(3, x) + " V"
}
