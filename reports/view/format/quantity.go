package format

import (
	"math"
	"strconv"
	"strings"
)

const (
	minus = "\u2212"
	space = "\u00a0"
)

// prefixes are the SI prefixes for powers of a thousand, the base unit at
// index [base].
var prefixes = [...]string{"f", "p", "n", "µ", "m", "", "k", "M", "G", "T"}

const base = 5

// Quantity writes value with three significant digits, an SI prefix and the
// unit: 0.118 A is "118 mA". Values under a femto-unit read as zero. A value
// that is not finite has no prefix.
func Quantity(value float64, unit string) string { return Digits(value, 3, unit) }

// Digits is [Quantity] with a chosen count of significant digits, at least 1.
// It panics on a count below 1.
func Digits(value float64, digits int, unit string) string {
	if math.IsNaN(value) || math.IsInf(value, 0) {
		return Number(value, digits) + space + unit
	}
	if math.Abs(value) < 1e-15 {
		return strings.TrimSuffix("0"+space+unit, space)
	}
	scale, prefix := Prefix(roundTo(value, digits))
	return strings.TrimSuffix(Number(value/scale, digits)+space+prefix+unit, space)
}

// Prefix returns the SI prefix under which magnitude reads between 1 and 1000,
// and its factor. Magnitudes outside femto to tera take the nearest of those;
// zero takes none.
func Prefix(magnitude float64) (scale float64, prefix string) {
	magnitude = math.Abs(magnitude)
	if magnitude == 0 {
		return 1, ""
	}
	index := base
	scale = 1
	for magnitude/scale >= 1000 && index < len(prefixes)-1 {
		index++
		scale = math.Pow10(3 * (index - base))
	}
	for magnitude/scale < 1 && index > 0 {
		index--
		scale = math.Pow10(3 * (index - base))
	}
	return scale, prefixes[index]
}

// Number writes value with the given count of significant digits, trailing
// zeros kept, whole numbers never shortened below their integer digits:
// Number(97.3241, 3) is "97.3" and Number(1234, 3) is "1234". Magnitudes under
// 1e-5 and from 1e9 on take a power of ten, "5.40·10⁻¹⁰", those under 1e-15 are
// "0", NaN is "–" and infinities are "∞" with their sign. It panics
// when digits is below 1.
func Number(value float64, digits int) string {
	if digits < 1 {
		panic("format: fewer than one significant digit")
	}
	switch {
	case math.IsNaN(value):
		return "–"
	case math.IsInf(value, 1):
		return "∞"
	case math.IsInf(value, -1):
		return minus + "∞"
	case math.Abs(value) < 1e-15:
		return "0"
	}
	if math.Abs(value) < 1e-5 || math.Abs(value) >= 1e9 {
		return scientific(value, digits)
	}
	decimals := digits - 1 - int(math.Floor(math.Log10(math.Abs(roundTo(value, digits)))))
	return Fixed(value, max(decimals, 0))
}

// scientific writes value as a number from 1 to 10 times a power of ten.
func scientific(value float64, digits int) string {
	mantissa, exponent, _ := strings.Cut(strconv.FormatFloat(value, 'e', digits-1, 64), "e")
	power, _ := strconv.Atoi(exponent) // two digits and a sign, as FormatFloat writes them
	return strings.Replace(mantissa, "-", minus, 1) + "·10" + raised.Replace(strconv.Itoa(power))
}

var raised = strings.NewReplacer("-", "⁻", "0", "⁰", "1", "¹", "2", "²", "3", "³", "4", "⁴", "5", "⁵", "6", "⁶", "7", "⁷", "8", "⁸", "9", "⁹")

// Fixed writes value with a fixed count of decimals and a true minus sign; what
// rounds to zero has no sign.
func Fixed(value float64, decimals int) string {
	text := strconv.FormatFloat(value, 'f', decimals, 64)
	unsigned := strings.TrimPrefix(text, "-")
	if unsigned == text || strings.Trim(unsigned, "0.") == "" {
		return unsigned
	}
	return minus + unsigned
}

// roundTo rounds to a count of significant digits, so that 999.7 with three of
// them is recognised as 1000.
func roundTo(value float64, digits int) float64 {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(value, 'e', digits-1, 64), 64)
	if err != nil {
		return value
	}
	return rounded
}

// Setting writes a bias setting by its mode, as stage.Setting.Mode names it, and its
// value, V or A: "as built", "1.20 V", "73.4 mA".
func Setting(mode string, value float64) string {
	switch mode {
	case "as-built":
		return "as built"
	case "bias":
		return Quantity(value, "V")
	}
	text := Quantity(value, "A")
	if strings.HasPrefix(mode, "held") {
		text += " held"
	}
	if strings.HasSuffix(mode, "-warm") {
		text += " warm"
	}
	return text
}
