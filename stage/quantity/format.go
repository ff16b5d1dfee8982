package quantity

import (
	"math"
	"strconv"
	"strings"
)

// engineering lists the prefixes for writing, largest first.
var engineering = []struct {
	prefix   string
	exponent int
}{{"G", 9}, {"M", 6}, {"k", 3}, {"", 0}, {"m", -3}, {"u", -6}, {"n", -9}, {"p", -12}, {"f", -15}}

// Format writes a finite quantity so that [Parse] gives back exactly the same
// value: the shortest digits that do, with an SI prefix for a unit and degrees
// Celsius for a temperature where they are exact.
func Format(v float64, unit Unit) string {
	if unit == Kelvin {
		if c := math.Round((v-zeroCelsius)*1e6) / 1e6; c+zeroCelsius == v {
			return strconv.FormatFloat(c, 'f', -1, 64) + "C"
		}
	}
	suffix := string(unit)
	switch unit {
	case Rise:
		suffix = "K"
	case Number, Kelvin, PerWatt, HeatStore:
	default:
		if v != 0 {
			return engineer(v, suffix)
		}
	}
	return strconv.FormatFloat(v, 'g', -1, 64) + suffix
}

// engineer writes v with the prefix that leaves one to three digits before the
// point, moving the decimal point in the text so that no digit changes.
func engineer(v float64, suffix string) string {
	text := strconv.FormatFloat(v, 'e', -1, 64)
	mantissa, tail, _ := strings.Cut(text, "e")
	power, _ := strconv.Atoi(tail)
	for _, e := range engineering {
		if power >= e.exponent && power < e.exponent+3 {
			return shift(mantissa, power-e.exponent) + e.prefix + suffix
		}
	}
	return text + suffix
}

// shift moves the point of a mantissa d.ddd to the right by places, 0 to 2.
func shift(mantissa string, places int) string {
	whole, fraction, _ := strings.Cut(mantissa, ".")
	for len(fraction) < places {
		fraction += "0"
	}
	whole, fraction = whole+fraction[:places], fraction[places:]
	if fraction == "" {
		return whole
	}
	return whole + "." + fraction
}
