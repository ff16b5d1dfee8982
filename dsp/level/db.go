// Package level holds the logarithmic and absolute level measures of the
// project: the decibel type, RMS and peak, loudness and true peak, and the one
// place where digital full scale and volts meet.
package level

import "math"

// DB is a level in decibels relative to a reference that its holder names.
// It is a type of its own so that a factor of 10 for 20 cannot slip in: convert
// with [DB.Amplitude] or [DB.Power] only.
type DB float64

// Amplitude returns the ratio of amplitudes (volts, samples), 10^(d/20).
func (d DB) Amplitude() float64 { return math.Pow(10, float64(d)/20) }

// Power returns the ratio of powers, 10^(d/10).
func (d DB) Power() float64 { return math.Pow(10, float64(d)/10) }

// FromAmplitude returns 20·log10(ratio). A ratio of zero gives -Inf, a negative
// ratio NaN.
func FromAmplitude(ratio float64) DB { return DB(20 * math.Log10(ratio)) }

// FromPower returns 10·log10(ratio). A ratio of zero gives -Inf, a negative
// ratio NaN.
func FromPower(ratio float64) DB { return DB(10 * math.Log10(ratio)) }
