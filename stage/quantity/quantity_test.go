package quantity

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

func TestParse(t *testing.T) {
	for _, row := range []struct {
		text string
		unit Unit
		want float64
	}{
		{"0.22ohm", Ohm, 0.22},
		{"2.2kohm", Ohm, 2200},
		{"2.2 kΩ", Ohm, 2200},
		{"10mA", Ampere, 0.01},
		{"10m", Ampere, 0.01},
		{"0.01", Ampere, 0.01},
		{"1e-14A", Ampere, 1e-14},
		{"1e-2mA", Ampere, 1e-5},
		{"47uF", Farad, 47e-6},
		{"47µF", Farad, 47e-6},
		{"-1.5V", Volt, -1.5},
		{"+3V", Volt, 3},
		{" 3V ", Volt, 3},
		{".5V", Volt, 0.5},
		{"25C", Kelvin, 298.15},
		{"-40.5°C", Kelvin, 232.65},
		{"300K", Kelvin, 300},
		{"5K", Rise, 5},
		{"0.8K/W", PerWatt, 0.8},
		{"100J/K", HeatStore, 100},
		{"1MHz", Hertz, 1e6},
		{"150", Number, 150},
		{"1k", Number, 1000},
	} {
		got, err := Parse(row.text, row.unit)
		if err != nil || math.Abs(got-row.want) > 1e-15*math.Abs(row.want) {
			t.Errorf("Parse(%q, %q) = %v, %v; want %v", row.text, row.unit, got, err, row.want)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for _, row := range []struct {
		text string
		unit Unit
		says string
	}{
		{"", Volt, "not a quantity"},
		{"V", Volt, "not a quantity"},
		{"nan", Volt, "not a quantity"},
		{"inf", Volt, "not a quantity"},
		{"-", Volt, "not a quantity"},
		{".", Volt, "not a quantity"},
		{"1.2.3V", Volt, "malformed"},
		{"10mV", Ampere, `"mV" is not the unit "A"`},
		{"10xA", Ampere, `"xA"`},
		{"10MmA", Ampere, `"MmA"`},
		{"1e400V", Volt, "out of range"},
		{"1e99999999999999999999V", Volt, "out of range"},
		{"1e308kV", Volt, "out of range"},
		{"25F", Kelvin, `a temperature in "C" or "K"`},
		{"10V", Number, "no unit"},
		{"0x10V", Volt, `"x10V"`},
		{"1_000V", Volt, `"_000V"`},
	} {
		got, err := Parse(row.text, row.unit)
		if err == nil || !strings.Contains(err.Error(), row.says) {
			t.Errorf("Parse(%q, %q) = %v, %v; want an error with %q", row.text, row.unit, got, err, row.says)
		}
	}
}

func TestFormat(t *testing.T) {
	for _, row := range []struct {
		v    float64
		unit Unit
		want string
	}{
		{0.01, Ampere, "10mA"},
		{0.22, Ohm, "220mohm"},
		{2200, Ohm, "2.2kohm"},
		{298.15, Kelvin, "25C"},
		{1e-14, Ampere, "10fA"},
		{1e-20, Ampere, "1e-20A"},
		{0, Volt, "0V"},
		{150, Number, "150"},
		{5, Rise, "5K"},
		{0.8, PerWatt, "0.8K/W"},
		{-1.5, Volt, "-1.5V"},
	} {
		if got := Format(row.v, row.unit); got != row.want {
			t.Errorf("Format(%v, %q) = %q, want %q", row.v, row.unit, got, row.want)
		}
	}
}

// TestFormatReadsBack checks that what Format writes, Parse reads to the last
// bit, over the whole range of magnitudes.
func TestFormatReadsBack(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	units := []Unit{Number, Volt, Ampere, Ohm, Watt, Second, Hertz, Farad, Henry, Kelvin, Rise, PerWatt, HeatStore}
	for range 20000 {
		unit := units[rng.IntN(len(units))]
		v := math.Pow(10, -25+40*rng.Float64())
		if unit == Kelvin {
			v = 200 + 200*rng.Float64()
		} else if rng.IntN(2) == 0 {
			v = -v
		}
		text := Format(v, unit)
		if got, err := Parse(text, unit); err != nil || got != v {
			t.Fatalf("%v written as %q is read as %v, %v", v, text, got, err)
		}
	}
}

func TestRange(t *testing.T) {
	r := Range{Unit: Ohm, Min: 0.1, Max: 1e4, Zero: "none"}
	for _, v := range []float64{0, 0.1, 8, 1e4} {
		if err := r.Check(v); err != nil {
			t.Errorf("%g: %v", v, err)
		}
	}
	for v, says := range map[float64]string{
		0.09:         "90mohm is outside the legal range, 100mohm to 10kohm, or 0: none",
		-1:           "-1ohm is outside",
		math.Inf(1):  "infinite is outside",
		math.Inf(-1): "infinite is outside",
	} {
		if err := r.Check(v); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%g: error %v, want %q", v, err, says)
		}
	}
	if err := r.Check(math.NaN()); err == nil || !strings.Contains(err.Error(), "not a number") {
		t.Errorf("NaN: error %v", err)
	}
}
