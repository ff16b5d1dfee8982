package schematic

import (
	"math"
	"strconv"

	"quietcross/reports/view/format"
	"quietcross/stage/quantity"
)

// partValue writes a part value as it is written on drawings: up to four
// significant digits without trailing zeros and an SI prefix; fractions of an ohm
// take none ("0.33 Ω"), and large capacitors are in microfarads ("2200 µF").
func partValue(value float64, unit quantity.Unit) string {
	symbol := string(unit)
	if unit == quantity.Ohm {
		symbol = "Ω"
	}
	scale, prefix := format.Prefix(value)
	if unit == quantity.Number || unit == quantity.Ohm && math.Abs(value) < 1 && math.Abs(value) >= 0.01 {
		scale, prefix = 1, ""
	}
	if unit == quantity.Farad && value >= 1e-3 {
		scale, prefix = 1e-6, "µ"
	}
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(value/scale, 'g', 4, 64), 64) // as written, it parses
	text := strconv.FormatFloat(rounded, 'f', -1, 64)
	if symbol == "" {
		return text
	}
	return text + "\u00a0" + prefix + symbol
}
