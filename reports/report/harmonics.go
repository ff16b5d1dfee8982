package report

import (
	"fmt"
	"math"

	"quietcross/dsp/distortion"
	"quietcross/dsp/level"
)

// Harmonics are those of a tone in one rendering.
type Harmonics struct {
	// Frequency is that of the fundamental, Hz, Fundamental its level re a
	// full-scale sine.
	Frequency   float64  `json:"frequency_hz"`
	Fundamental level.DB `json:"fundamental_dbfs"`
	// Orders are from 2 to 20, as far as they lie below half the rate.
	Orders []Order `json:"orders"`
	// THD is the root sum of squares of the orders re the fundamental
	// (IEC 60268-3, 14.12), a ratio; Sigma its standard uncertainty and Floor
	// what the noise alone would read.
	THD      float64  `json:"thd"`
	Sigma    float64  `json:"thd_sigma"`
	Floor    float64  `json:"thd_floor"`
	Warnings []string `json:"warnings,omitempty"`
}

// Order is one harmonic.
type Order struct {
	Order int `json:"order"`
	// Frequency is in Hz, Level re the fundamental.
	Frequency float64  `json:"frequency_hz"`
	Level     level.DB `json:"level_db"`
	// Phase is that at the positive crest of the fundamental, radians.
	Phase float64 `json:"phase_rad"`
	// Resolved tells that it stands clear of the noise.
	Resolved bool `json:"resolved"`
}

// measureHarmonics fits the harmonics of a single tone. A rendering that holds
// no steady tone, as when nothing gets through, has none, and the item a
// warning.
func (item *Item) measureHarmonics(t track, r *Rendering) error {
	if item.Source.Kind != "tone" {
		return nil
	}
	x, err := t.steady(r.File, item.Channel)
	if err != nil || x == nil {
		return err
	}
	tone, err := fit(x, float64(item.Rate), item.Source.Tones)
	if err != nil {
		r.notes = append(r.notes, fmt.Sprintf("%s: no harmonics: %v", r.File, err))
		return nil
	}
	r.Harmonics = tabulate(tone)
	return nil
}

// fit looks near the source's tone where that is known.
func fit(x []float64, rate float64, tones []float64) (*distortion.Tone, error) {
	if len(tones) == 1 && tones[0] > 0 {
		return distortion.HarmonicsNear(x, rate, tones[0])
	}
	return distortion.Harmonics(x, rate)
}

func tabulate(tone *distortion.Tone) *Harmonics {
	thd := tone.THDF()
	h := &Harmonics{
		Frequency:   tone.Frequency,
		Fundamental: level.FromAmplitude(tone.Fundamental.Amplitude()),
		THD:         thd.Value, Sigma: thd.Sigma, Floor: thd.Floor,
		Warnings: tone.Warnings,
	}
	for _, o := range tone.Harmonics {
		h.Orders = append(h.Orders, Order{
			Order: o.Order, Frequency: o.Frequency,
			Level: level.FromAmplitude(o.Amplitude() / tone.Fundamental.Amplitude()),
			Phase: math.Remainder(o.Phase(), 2*math.Pi), Resolved: o.Resolved(),
		})
	}
	return h
}
