package fit

import (
	"errors"
	"fmt"
	"math"

	"quietcross/dsp/distortion"
)

// Highest orders that are compared: harmonics of a tone, products of two tones.
const (
	highestHarmonic = 15
	highestProduct  = 5
)

// Observation is the stage's output at one level: one tone or two.
type Observation struct {
	Frequencies []float64 `json:"frequencies_hz"`
	Amplitudes  []float64 `json:"amplitudes_v"` // of the tones, peak, V
	Lines       []Line    `json:"lines"`        // harmonics or products
}

// Line is one recorded harmonic or product, and what the fitted model makes of it.
type Line struct {
	N1 int `json:"n1"` // the line lies at |N1·f1 + N2·f2|
	N2 int `json:"n2"`
	// Volts is signed: in phase with the instant at which the tones crest.
	Volts float64 `json:"volts"`
	// Quadrature is the part a quarter cycle off, which no law without memory has.
	Quadrature float64 `json:"quadrature_v"`
	Sigma      float64 `json:"sigma_v"` // standard uncertainty of either part
	Model      float64 `json:"model_v"` // set by [Run]
}

// Order returns |N1| + |N2|.
func (l Line) Order() int { return max(l.N1, -l.N1) + max(l.N2, -l.N2) }

// Total returns the sum of the tones' amplitudes, the peak of their sum.
func (o Observation) Total() float64 {
	sum := 0.0
	for _, a := range o.Amplitudes {
		sum += a
	}
	return sum
}

// Observe measures a recording of the stage's output at a rate in hertz, where
// full scale stands for volts at the output. Each stretch of steady level that
// holds a tone or two tones is one observation. It returns an error when there is
// none, or for volts that are not above 0.
func Observe(x []float64, rate, volts float64) ([]Observation, error) {
	if !(volts > 0) || math.IsInf(volts, 1) {
		return nil, fmt.Errorf("fit: full scale of %g V, legal is above 0 and finite", volts)
	}
	var all []Observation
	failure := errors.New("no stretch of steady level of at least 0.2 s")
	for _, s := range distortion.Steps(x, rate) {
		o, err := observe(x[s.From:s.To], rate, volts)
		if err != nil {
			failure = err
			continue
		}
		all = append(all, o)
	}
	if len(all) == 0 {
		return nil, fmt.Errorf("fit: the recording holds no steady tone: %w", failure)
	}
	return all, nil
}

func observe(x []float64, rate, volts float64) (Observation, error) {
	found, err := distortion.Detect(x, rate)
	if err != nil {
		return Observation{}, err
	}
	switch found.Kind {
	case distortion.TwoTone, distortion.DifferenceTones:
		t, err := distortion.Products2(x, rate, found.Tones[0], found.Tones[1])
		if err != nil {
			return Observation{}, err
		}
		return ofTwoTones(t, volts), nil
	}
	tone, err := distortion.Harmonics(x, rate)
	if err != nil {
		return Observation{}, err
	}
	return ofTone(tone, volts), nil
}

func ofTone(t *distortion.Tone, volts float64) Observation {
	o := Observation{Frequencies: []float64{t.Frequency}, Amplitudes: []float64{t.Fundamental.Amplitude() * volts}}
	for _, h := range t.Harmonics {
		if h.Order <= highestHarmonic {
			o.Lines = append(o.Lines, newLine(h.Order, 0, h.Value, h.Sigma, volts))
		}
	}
	return o
}

func ofTwoTones(t *distortion.TwoTones, volts float64) Observation {
	o := Observation{
		Frequencies: []float64{t.Low.Frequency, t.High.Frequency},
		Amplitudes:  []float64{t.Low.Amplitude * volts, t.High.Amplitude * volts},
	}
	for _, p := range t.Products {
		if l := newLine(p.N1, p.N2, p.Value, p.Sigma, volts); l.Order() <= highestProduct {
			o.Lines = append(o.Lines, l)
		}
	}
	return o
}

func newLine(n1, n2 int, value complex128, sigma, volts float64) Line {
	return Line{N1: n1, N2: n2, Volts: real(value) * volts, Quadrature: imag(value) * volts, Sigma: sigma * volts}
}

// distorted returns the root sum of squares of the lines' in-phase and quadrature
// parts, and of their uncertainties, over all observations.
func distorted(all []Observation) (inPhase, quadrature, sigma float64) {
	for _, o := range all {
		for _, l := range o.Lines {
			inPhase = math.Hypot(inPhase, l.Volts/o.Total())
			quadrature = math.Hypot(quadrature, l.Quadrature/o.Total())
			sigma = math.Hypot(sigma, l.Sigma/o.Total())
		}
	}
	return inPhase, quadrature, sigma
}
