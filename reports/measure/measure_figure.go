package measure

import (
	"math"

	"quietcross/dsp/level"
	"quietcross/reports/view/format"
)

// row is a figure as a line of a table: name, value, uncertainty, definition.
type row struct{ title, value, uncertainty, definition string }

func rowOf(f Figure) row {
	if isLevel(f) && math.Abs(f.Value) < clear*f.Sigma {
		f.Value, f.Unresolved = clear*f.Sigma, true
	}
	r := row{title: f.Title, value: value(f), definition: f.Definition}
	if f.Sigma > 0 {
		r.uncertainty = uncertainty(f)
	}
	if f.Unresolved {
		r.value = "at most about " + r.value
		r.uncertainty = "within the noise"
	}
	return r
}

// clear is how many standard uncertainties an amplitude must have to be told from
// nothing: with less, its decibels have no meaning.
const clear = 3

// isLevel tells whether a figure is written in decibels.
func isLevel(f Figure) bool { return f.Unit == Ratio || f.Unit == FullScale }

// value writes a figure's value with its unit; ratios in dB and percent.
func value(f Figure) string {
	switch f.Unit {
	case Ratio:
		l, _ := f.Level()
		if math.Abs(f.Value) > 2 {
			return format.DB(l)
		}
		return format.DB(l) + " (" + format.Percent(math.Abs(f.Value), 3) + ")"
	case FullScale:
		l, _ := f.Level()
		return format.Decibels(l, "dBFS")
	case Hertz:
		return format.Digits(f.Value, 9, "Hz")
	case Seconds:
		return format.Digits(f.Value, 6, "s")
	case Samples:
		return format.Fixed(f.Value, 4) + " samples"
	case LUFS:
		return format.Decibels(level.DB(f.Value), "LUFS")
	case Share:
		return format.Percent(f.Value, 4)
	case PerUnit:
		return format.Fixed(1e6*f.Value, 4) + " ppm"
	case Count:
		return format.Count(int64(f.Value))
	}
	return format.Number(f.Value, 6)
}

// uncertainty writes the standard uncertainty of a value in the unit that the
// value is written in; of a level, in dB by the first order of the logarithm.
func uncertainty(f Figure) string {
	switch f.Unit {
	case Ratio, FullScale:
		return plusMinus(20/math.Ln10*f.Sigma/math.Abs(f.Value), " dB")
	case Hertz:
		return "±" + format.Quantity(f.Sigma, "Hz")
	case Seconds:
		return "±" + format.Quantity(f.Sigma, "s")
	case PerUnit:
		return plusMinus(1e6*f.Sigma, " ppm")
	}
	return plusMinus(f.Sigma, "")
}

// smallest is the uncertainty under which its own digits say nothing.
const smallest = 1e-4

func plusMinus(sigma float64, unit string) string {
	if sigma < smallest {
		return "±0.0001" + unit + " or less"
	}
	return "±" + format.Number(sigma, 2) + unit
}

// lineCells are a harmonic or product as cells of a table.
func lineCells(l Line) []string {
	phase := "–"
	if l.Phase != nil && l.Resolved {
		phase = format.Fixed(*l.Phase*180/math.Pi, 1) + "°"
	}
	level, percent := format.DB(l.Level()), format.Percent(l.Ratio, 3)
	if !l.Resolved {
		level, percent = "in noise", "–"
	}
	return []string{l.Name, format.Digits(l.Frequency, 6, "Hz"), level, percent, phase}
}

// lineColumns head a table of lineCells.
var lineColumns = []string{"order", "frequency", "level", "share", "phase"}
