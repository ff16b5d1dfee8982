package format_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"quietcross/dsp/level"
	"quietcross/reports/view/format"
)

// plain replaces the typographic characters, so that the tables below can be
// read.
var plain = strings.NewReplacer("\u00a0", " ", "\u2212", "-")

// The prefixes and the one-to-thousand rule are those of the SI Brochure, 9th
// edition, chapter 3.
func TestQuantity(t *testing.T) {
	for _, c := range []struct {
		value float64
		unit  string
		want  string
	}{
		{0.118, "A", "118 mA"},
		{0.0258649, "V", "25.9 mV"},
		{-0.0004, "V", "-400 µV"},
		{0, "A", "0 A"},
		{1e-18, "A", "0 A"},
		{2.2e-12, "F", "2.20 pF"},
		{999.7, "Hz", "1.00 kHz"},
		{999.4, "Hz", "999 Hz"},
		{48000, "Hz", "48.0 kHz"},
		{0.9999999, "V", "1.00 V"},
		{3.3e15, "W", "3300 TW"},
		{math.Inf(-1), "V", "-∞ V"},
		{math.NaN(), "V", "– V"},
		{4.5, "", "4.50"},
	} {
		if got := plain.Replace(format.Quantity(c.value, c.unit)); got != c.want {
			t.Errorf("Quantity(%g, %q) = %q, want %q", c.value, c.unit, got, c.want)
		}
	}
}

func TestNumber(t *testing.T) {
	for _, c := range []struct {
		value  float64
		digits int
		want   string
	}{
		{0.967991, 5, "0.96799"},
		{97.3241, 3, "97.3"},
		{1234, 3, "1234"},
		{0.09996, 3, "0.100"},
		{-12.345, 2, "-12"},
		{9.996, 3, "10.0"},
		{5.4e-10, 3, "5.40·10⁻¹⁰"},
		{-2e-6, 1, "-2·10⁻⁶"},
		{1.2e-5, 2, "0.000012"},
		{0, 3, "0"},
		{1e300, 2, "1.0·10³⁰⁰"},
	} {
		if got := plain.Replace(format.Number(c.value, c.digits)); got != c.want {
			t.Errorf("Number(%g, %d) = %q, want %q", c.value, c.digits, got, c.want)
		}
	}
}

func TestDecibels(t *testing.T) {
	for _, c := range []struct {
		value level.DB
		want  string
	}{
		{-71.26, "-71.3 dB"},
		{6.02, "+6.0 dB"},
		{0, "0.0 dB"},
		{-0.04, "0.0 dB"},
		{0.04, "0.0 dB"},
		{level.DB(math.Inf(-1)), "-∞ dB"},
	} {
		if got := plain.Replace(format.DB(c.value)); got != c.want {
			t.Errorf("DB(%g) = %q, want %q", float64(c.value), got, c.want)
		}
	}
	for value, want := range map[level.DB]string{-71.26: "71.3 dB", 3: "3.0 dB"} {
		if got := plain.Replace(format.Distance(value)); got != want {
			t.Errorf("Distance(%g) = %q, want %q", float64(value), got, want)
		}
	}
	if got := plain.Replace(format.Decibels(-23, "LUFS")); got != "-23.0 LUFS" {
		t.Errorf("Decibels = %q", got)
	}
}

func TestCountAndDuration(t *testing.T) {
	for n, want := range map[int64]string{0: "0", 999: "999", 1000: "1 000", -1234567: "-1 234 567"} {
		if got := plain.Replace(format.Count(n)); got != want {
			t.Errorf("Count(%d) = %q, want %q", n, got, want)
		}
	}
	for seconds, want := range map[float64]string{
		0.35: "350 ms", 12.34: "12.3 s", 245: "4 min 05 s", 3725: "1 h 02 min",
	} {
		if got := plain.Replace(format.Duration(seconds)); got != want {
			t.Errorf("Duration(%g) = %q, want %q", seconds, got, want)
		}
	}
}

func TestCelsius(t *testing.T) {
	for kelvins, want := range map[float64]string{298.15: "25 °C", 233.15: "-40 °C", 0: "–", math.Inf(1): "–"} {
		if got := plain.Replace(format.Celsius(kelvins)); got != want {
			t.Errorf("Celsius(%g) = %q, want %q", kelvins, got, want)
		}
	}
}

func TestSetting(t *testing.T) {
	for want, got := range map[string]string{
		"73.4 mA": format.Setting("quiescent", 0.0734), "1.20 V": format.Setting("bias", 1.2), "as built": format.Setting("as-built", 0),
	} {
		if plain.Replace(got) != want {
			t.Errorf("setting %q, want %q", got, want)
		}
	}
}

func TestNumberPanicsWithoutDigits(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("no panic for zero digits")
		}
	}()
	format.Number(1, 0)
}

func ExampleQuantity() {
	fmt.Println(strings.ReplaceAll(format.Quantity(0.118, "A"), "\u00a0", " "))
	// Output: 118 mA
}
