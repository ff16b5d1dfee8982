package schematic

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"quietcross/reports/view/format"
	"quietcross/stage"
)

// figures writes the table of a built-in stage for the documents: some rows of what
// the command inspect prints.
func figures(t *testing.T, name string) string {
	t.Helper()
	spec, err := stage.Lookup(name)
	if err != nil {
		t.Fatal(err)
	}
	st, err := stage.New(spec)
	if err != nil {
		t.Fatal(err)
	}
	heads := []string{"as built", "bias 0 V"}
	settings := []stage.Setting{stage.AsBuilt(), stage.Bias(0)}
	if optimum := st.OptimumQuiescent(); optimum > 0 {
		heads = append(heads, format.Quantity(optimum, "A"))
		settings = append(settings, stage.Quiescent(optimum))
	}
	var looks []stage.Inspection
	for _, setting := range settings {
		biased, err := st.Set(setting)
		if err != nil {
			t.Fatal(err)
		}
		look, err := biased.Inspect(2)
		if err != nil {
			t.Fatal(err)
		}
		looks = append(looks, look)
	}
	var b strings.Builder
	fmt.Fprintf(&b, "| `quietcross stage inspect %s` | %s |\n|---|%s\n", name, strings.Join(heads, " | "), strings.Repeat("---|", len(heads)))
	for _, row := range figureRows {
		fmt.Fprintf(&b, "| %s |", row.name)
		for _, look := range looks {
			b.WriteString(" " + row.cell(look) + " |")
		}
		b.WriteByte('\n')
	}
	return b.String()
}

var figureRows = []struct {
	name string
	cell func(stage.Inspection) string
}{
	{"bias", func(i stage.Inspection) string { return format.Digits(quiet(i.Point.Bias), 4, "V") }},
	{"quiescent current", func(i stage.Inspection) string { return small(i.Point.Quiescent, "A") }},
	{"drawn at rest", func(i stage.Inspection) string { return small(i.Point.SupplyPower, "W") }},
	{"device heat at rest", func(i stage.Inspection) string { return small(i.Point.Dissipation, "W") }},
	{"gain at rest", func(i stage.Inspection) string { return gain(i.GainRest) }},
	{"minimum gain", func(i stage.Inspection) string { return gain(i.Crossover.Minimum) }},
	{"gain at full swing", func(i stage.Inspection) string { return gain(i.GainFull) }},
	{"crossover width", func(i stage.Inspection) string { return format.Quantity(i.Crossover.Width, "V") }},
	{"clips at input", func(i stage.Inspection) string {
		return format.Digits(i.ClipLow, 4, "V") + " / " + format.Digits(i.ClipHigh, 4, "V")
	}},
}

// gain writes an incremental gain; next to nothing is told as such.
func gain(value float64) string {
	if math.Abs(value) < 1e-3 {
		return "under 0.001"
	}
	return format.Fixed(value, 4)
}
