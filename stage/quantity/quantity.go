// Package quantity reads and writes physical quantities with SI prefixes, such
// as 10mA, 0.22ohm, 2.2kohm and 25C, and checks them against legal ranges.
// Values are float64 in SI base units; temperatures become kelvins.
package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Unit is the symbol of a unit as written: "V", "A", "ohm", "W", "s", "Hz",
// "F", "H", "K", "K/W". The empty Unit is a plain number.
type Unit string

// Units that quantities come in.
const (
	Number    Unit = ""
	Volt      Unit = "V"
	Ampere    Unit = "A"
	Ohm       Unit = "ohm"
	Watt      Unit = "W"
	Second    Unit = "s"
	Hertz     Unit = "Hz"
	Farad     Unit = "F"
	Henry     Unit = "H"
	Weber     Unit = "Wb"  // volt-seconds of flux linkage
	Kelvin    Unit = "K"   // a temperature; read from K or C
	Rise      Unit = "deg" // a temperature difference, in kelvins
	PerWatt   Unit = "K/W" // thermal resistance
	HeatStore Unit = "J/K" // heat capacity
)

const zeroCelsius = 273.15

// prefixes maps an SI prefix to its power of ten.
var prefixes = map[string]int{
	"f": -15, "p": -12, "n": -9, "u": -6, "µ": -6, "μ": -6, "m": -3, "k": 3, "M": 6, "G": 9,
}

// spellings are other ways to write a unit.
var spellings = map[Unit][]string{
	Ohm:    {"Ω", "Ohm", "ohms"},
	Kelvin: {},
	Rise:   {"K", "C", "°C"},
}

// Parse reads a quantity of the given unit: a number, an optional SI prefix and
// an optional unit ("10mA", "10m", "0.01"). A temperature may be in K, or in C
// for degrees Celsius. The result is finite. Errors say what was found and what
// is wanted.
func Parse(text string, unit Unit) (float64, error) {
	trimmed := strings.TrimSpace(text)
	number, rest := split(trimmed)
	if number == "" {
		return 0, fmt.Errorf("%q is not a quantity; write a number and %s", text, unit.describe())
	}
	if unit == Kelvin && (rest == "C" || rest == "°C") {
		v, err := scaled(number, 0)
		if err != nil {
			return 0, fmt.Errorf("%q: %w", text, err)
		}
		return v + zeroCelsius, nil
	}
	exponent, ok := unit.exponent(rest)
	if !ok {
		return 0, fmt.Errorf("%q: unit %q is not %s", text, rest, unit.describe())
	}
	v, err := scaled(number, exponent)
	if err != nil {
		return 0, fmt.Errorf("%q: %w", text, err)
	}
	return v, nil
}

// describe names the unit for an error.
func (u Unit) describe() string {
	switch u {
	case Number:
		return "no unit"
	case Kelvin:
		return `a temperature in "C" or "K"`
	case Rise:
		return `a temperature difference in "K"`
	}
	return fmt.Sprintf("the unit %q with or without an SI prefix", string(u))
}

// exponent returns the power of ten of what stands after the number.
func (u Unit) exponent(rest string) (int, bool) {
	rest = strings.TrimSpace(rest)
	for _, spelling := range append([]string{string(u)}, spellings[u]...) {
		if spelling != "" && strings.HasSuffix(rest, spelling) {
			if e, ok := prefix(strings.TrimSuffix(rest, spelling)); ok {
				return e, true
			}
		}
	}
	return prefix(rest)
}

func prefix(text string) (int, bool) {
	if text == "" {
		return 0, true
	}
	e, ok := prefixes[text]
	return e, ok
}

// split parts the leading decimal number from what follows it. An exponent
// belongs to the number when digits follow its e.
func split(text string) (number, rest string) {
	i := 0
	for i < len(text) && (text[i] == '+' || text[i] == '-') && i == 0 {
		i++
	}
	digits := false
	for i < len(text) && (text[i] == '.' || isDigit(text[i])) {
		digits = digits || isDigit(text[i])
		i++
	}
	if !digits {
		return "", text
	}
	if i < len(text) && (text[i] == 'e' || text[i] == 'E') {
		j := i + 1
		if j < len(text) && (text[j] == '+' || text[j] == '-') {
			j++
		}
		if k := j; k < len(text) && isDigit(text[k]) {
			for k < len(text) && isDigit(text[k]) {
				k++
			}
			i = k
		}
	}
	return text[:i], text[i:]
}

func isDigit(b byte) bool { return b >= '0' && b <= '9' }

// scaled reads number times ten to the exponent, rounded once.
func scaled(number string, exponent int) (float64, error) {
	mantissa, own, hasExponent := strings.Cut(strings.ToLower(number), "e")
	if hasExponent {
		e, err := strconv.Atoi(own)
		if err != nil {
			return 0, fmt.Errorf("exponent %s is out of range", own)
		}
		exponent += e
	}
	v, err := strconv.ParseFloat(mantissa+"e"+strconv.Itoa(exponent), 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, fmt.Errorf("number %s is out of range or malformed", number)
	}
	return v, nil
}

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

// Range is the legal range of a quantity, both ends included. Zero, when not
// empty, says what the value zero means beside the range ("infinite", "none").
type Range struct {
	Unit     Unit
	Min, Max float64
	Zero     string
}

// Check returns an error that names the legal range when v is outside of it or
// not a number.
func (r Range) Check(v float64) error {
	if r.Zero != "" && v == 0 {
		return nil
	}
	if v >= r.Min && v <= r.Max {
		return nil
	}
	found := "not a number"
	switch {
	case math.IsInf(v, 0):
		found = "infinite"
	case !math.IsNaN(v):
		found = Format(v, r.Unit)
	}
	return fmt.Errorf("%s is outside the legal range, %s", found, r)
}

// String writes the range as "0.1ohm to 10kohm, or 0: none".
func (r Range) String() string {
	text := Format(r.Min, r.Unit) + " to " + Format(r.Max, r.Unit)
	if r.Zero != "" {
		text += ", or 0: " + r.Zero
	}
	return text
}
