package format

import (
	"math"
	"strconv"
	"strings"

	"quietcross/dsp/level"
)

// DB writes a level with one decimal and its sign: "−71.3 dB", "+6.0 dB".
// Silence (minus infinity) is "−∞ dB".
func DB(d level.DB) string { return Decibels(d, "dB") }

// Decibels is [DB] with a unit that names its reference, such as "dBFS" or
// "LUFS".
func Decibels(d level.DB, unit string) string {
	value := float64(d)
	if math.IsInf(value, 0) || math.IsNaN(value) {
		return Number(value, 1) + space + unit
	}
	text := Fixed(value, 1)
	if value > 0 && text != "0.0" {
		text = "+" + text
	}
	return text + space + unit
}

// Distance writes how far apart two levels are, without a sign: "71.3 dB".
func Distance(d level.DB) string {
	return strings.TrimLeft(Decibels(level.DB(math.Abs(float64(d))), "dB"), "+")
}

// Percent writes a ratio as a percentage with the given count of significant
// digits: Percent(0.00735, 3) is "0.735 %".
func Percent(ratio float64, digits int) string {
	return Number(100*ratio, digits) + space + "%"
}

// Celsius writes a temperature given in kelvins in whole degrees Celsius; what is
// no temperature, not above absolute zero or not finite, is "–".
func Celsius(kelvins float64) string {
	if !(kelvins > 0) || math.IsInf(kelvins, 0) {
		return "–"
	}
	return Fixed(kelvins-273.15, 0) + space + "°C"
}

// Count writes a whole number in groups of three: "1 234 567".
func Count(n int64) string {
	text := strconv.FormatInt(n, 10)
	digits := strings.TrimPrefix(text, "-")
	var b strings.Builder
	if digits != text {
		b.WriteString(minus)
	}
	for i, r := range digits {
		if i > 0 && (len(digits)-i)%3 == 0 {
			b.WriteString(space)
		}
		b.WriteRune(r)
	}
	return b.String()
}

// Duration writes seconds as a person reads them: "350 ms", "12.3 s",
// "4 min 05 s", "1 h 02 min".
func Duration(seconds float64) string {
	switch {
	case math.IsNaN(seconds) || seconds < 60:
		return Quantity(seconds, "s")
	case seconds < 3600:
		whole := int64(math.Round(seconds))
		return strconv.FormatInt(whole/60, 10) + space + "min" + space + pad(whole%60) + space + "s"
	default:
		whole := int64(math.Round(seconds / 60))
		return Count(whole/60) + space + "h" + space + pad(whole%60) + space + "min"
	}
}

func pad(n int64) string {
	if n < 10 {
		return "0" + strconv.FormatInt(n, 10)
	}
	return strconv.FormatInt(n, 10)
}
