package level

import (
	"fmt"
	"math"
)

// Scale ties digital full scale to volts. It is the only place in the project
// where the two meet: signal code knows no volts, stages know no full scale.
type Scale struct{ volts float64 }

// NewScale returns the scale on which digital full scale, a sample of 1.0, is
// volts (peak, above 0 and finite). It panics otherwise.
func NewScale(volts float64) Scale {
	if !(volts > 0) || math.IsInf(volts, 1) {
		panic(fmt.Sprintf("level: full scale of %g V, legal is above 0 and finite", volts))
	}
	return Scale{volts: volts}
}

// FullScale returns the volts that a sample of 1.0 stands for.
func (s Scale) FullScale() float64 { return s.volts }

// At returns the scale of a signal played d above this scale's level: a level of
// -20 dB makes full scale a tenth of the volts.
func (s Scale) At(d DB) Scale { return NewScale(s.volts * d.Amplitude()) }

// Volts returns the volts of one sample.
func (s Scale) Volts(sample float64) float64 { return sample * s.volts }

// Sample returns the sample value of a voltage.
func (s Scale) Sample(volts float64) float64 { return volts / s.volts }

// ToVolts writes the volts of the samples src to dst, which may be src itself.
// It panics if the lengths differ.
func (s Scale) ToVolts(dst, src []float64) { scaleBy(dst, src, s.volts) }

// FromVolts writes the sample values of the voltages src to dst, which may be
// src itself. It panics if the lengths differ.
func (s Scale) FromVolts(dst, src []float64) { scaleBy(dst, src, 1/s.volts) }

func scaleBy(dst, src []float64, k float64) {
	if len(dst) != len(src) {
		panic(fmt.Sprintf("level: dst has %d samples, src %d", len(dst), len(src)))
	}
	for i, v := range src {
		dst[i] = v * k
	}
}
