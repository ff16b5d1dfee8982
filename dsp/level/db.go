// Package level holds the logarithmic and absolute level measures of the
// project: the decibel type, RMS and peak, loudness and true peak, and the one
// place where digital full scale and volts meet.
package level

import (
	"fmt"
	"math"
	"strconv"

	"quietcross/dsp/elementary"
)

// DB is a level in decibels relative to a reference that its holder names.
// It is a type of its own so that a factor of 10 for 20 cannot slip in: convert
// with [DB.Amplitude] or [DB.Power] only.
type DB float64

// Amplitude returns the ratio of amplitudes (volts, samples), 10^(d/20).
func (d DB) Amplitude() float64 { return elementary.Pow10(float64(d) / 20) }

// Power returns the ratio of powers, 10^(d/10).
func (d DB) Power() float64 { return elementary.Pow10(float64(d) / 10) }

// FromAmplitude returns 20·log10(ratio). A ratio of zero gives -Inf, a negative
// ratio NaN.
func FromAmplitude(ratio float64) DB { return DB(20 * math.Log10(ratio)) }

// FromPower returns 10·log10(ratio). A ratio of zero gives -Inf, a negative
// ratio NaN.
func FromPower(ratio float64) DB { return DB(10 * math.Log10(ratio)) }

// MarshalJSON writes a finite level as a number and a non-finite one as null,
// which stands for silence: JSON has no infinities.
func (d DB) MarshalJSON() ([]byte, error) {
	if math.IsInf(float64(d), 0) || math.IsNaN(float64(d)) {
		return []byte("null"), nil
	}
	return strconv.AppendFloat(nil, float64(d), 'g', -1, 64), nil
}

// UnmarshalJSON reads a number, or null as -Inf (silence).
func (d *DB) UnmarshalJSON(text []byte) error {
	if string(text) == "null" {
		*d = DB(math.Inf(-1))
		return nil
	}
	value, err := strconv.ParseFloat(string(text), 64)
	if err != nil {
		return fmt.Errorf("level: %q is not a number of decibels", text)
	}
	*d = DB(value)
	return nil
}
