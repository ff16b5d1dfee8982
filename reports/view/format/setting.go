package format

// Setting writes a bias setting by its mode, "as-built", "bias" or "quiescent",
// and its value, V or A: "as built", "1.20 V", "73.4 mA".
func Setting(mode string, value float64) string {
	switch mode {
	case "bias":
		return Quantity(value, "V")
	case "quiescent":
		return Quantity(value, "A")
	}
	return "as built"
}
