package fit

import (
	"errors"
	"fmt"
	"math"

	"quietcross/dsp/distortion"
)

// highestOrder bounds the harmonics that are compared.
const highestOrder = 15

// Observation is the stage's output at one level.
type Observation struct {
	Fundamental float64    `json:"fundamental_v"` // peak, V
	Frequency   float64    `json:"frequency_hz"`
	Harmonics   []Harmonic `json:"harmonics"`
}

// Harmonic is one recorded harmonic, and what the fitted model makes of it.
type Harmonic struct {
	Order int     `json:"order"`
	Volts float64 `json:"volts"` // signed: in phase with the fundamental's crest
	// Quadrature is the part a quarter cycle off, which no law without memory has.
	Quadrature float64 `json:"quadrature_v"`
	Sigma      float64 `json:"sigma_v"` // standard uncertainty of either part
	Model      float64 `json:"model_v"` // set by [Run]
}

// Observe measures a recording of the stage's output at a rate in hertz, where
// full scale stands for volts at the output. Each stretch of steady level is one
// observation. It returns an error when there is none with a steady tone, or for
// volts that are not above 0.
func Observe(x []float64, rate, volts float64) ([]Observation, error) {
	if !(volts > 0) || math.IsInf(volts, 1) {
		return nil, fmt.Errorf("fit: full scale of %g V, legal is above 0 and finite", volts)
	}
	steps := distortion.Steps(x, rate)
	var all []Observation
	failure := errors.New("no stretch of steady level of at least 0.2 s")
	for _, s := range steps {
		tone, err := distortion.Harmonics(x[s.From:s.To], rate)
		if err != nil {
			failure = err
			continue
		}
		all = append(all, observation(tone, volts))
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("fit: the recording holds no steady tone: %w", failure)
	}
	return all, nil
}

func observation(t *distortion.Tone, volts float64) Observation {
	o := Observation{Fundamental: t.Fundamental.Amplitude() * volts, Frequency: t.Frequency}
	for _, h := range t.Harmonics {
		if h.Order > highestOrder {
			break
		}
		o.Harmonics = append(o.Harmonics, Harmonic{
			Order: h.Order, Volts: real(h.Value) * volts, Quadrature: imag(h.Value) * volts, Sigma: h.Sigma * volts,
		})
	}
	return o
}

// distorted returns the root sum of squares of the harmonics' in-phase and
// quadrature parts, and of their uncertainties, over all observations.
func distorted(all []Observation) (inPhase, quadrature, sigma float64) {
	for _, o := range all {
		for _, h := range o.Harmonics {
			inPhase = math.Hypot(inPhase, h.Volts/o.Fundamental)
			quadrature = math.Hypot(quadrature, h.Quadrature/o.Fundamental)
			sigma = math.Hypot(sigma, h.Sigma/o.Fundamental)
		}
	}
	return inPhase, quadrature, sigma
}
