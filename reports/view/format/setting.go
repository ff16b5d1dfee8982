package format

import "strings"

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
