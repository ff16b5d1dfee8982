package measure

import (
	"encoding/json"
	"math"

	"quietcross/dsp/distortion"
	"quietcross/dsp/level"
)

// Unit says what a figure's value is.
type Unit string

// The units.
const (
	Ratio     Unit = "ratio"      // of amplitudes: 0.01 is 1 % or -40 dB
	FullScale Unit = "full_scale" // amplitude re full scale; a sine's peak, an RMS as RMS
	Hertz     Unit = "hz"
	Seconds   Unit = "s"
	Samples   Unit = "samples"
	LUFS      Unit = "lufs" // loudness, already logarithmic
	Share     Unit = "share"
	Count     Unit = "count"
	PerUnit   Unit = "per_unit" // a relative difference: 1e-6 is 1 ppm
)

// Figure is one measured number with what it means.
type Figure struct {
	Key        string  `json:"key"`   // stable, such as thd_f
	Title      string  `json:"title"` // for people
	Value      float64 `json:"value"`
	Unit       Unit    `json:"unit"`
	Sigma      float64 `json:"sigma,omitempty"` // standard uncertainty of Value, 0 if not known
	Floor      float64 `json:"floor,omitempty"` // what noise alone would read
	Unresolved bool    `json:"unresolved,omitempty"`
	Definition string  `json:"definition"` // standard and clause, or the formula
}

// Level returns an amplitude or ratio in dB; -Inf for 0. It returns false for
// other units.
func (f Figure) Level() (level.DB, bool) {
	if f.Unit != Ratio && f.Unit != FullScale {
		return 0, false
	}
	return level.FromAmplitude(math.Abs(f.Value)), true
}

// MarshalJSON writes the fields and, for amplitudes and ratios, db.
func (f Figure) MarshalJSON() ([]byte, error) {
	type plain Figure
	d, ok := f.Level()
	if !ok {
		return json.Marshal(plain(f))
	}
	return json.Marshal(struct {
		plain
		DB level.DB `json:"db"`
	}{plain(f), d})
}

// ratio makes a figure of a distortion measure.
func ratio(key, title, definition string, f distortion.Figure) Figure {
	return Figure{
		Key: key, Title: title, Definition: definition, Unit: Ratio,
		Value: f.Value, Sigma: f.Sigma, Floor: f.Floor, Unresolved: !f.Resolved(),
	}
}

// Line is one spectral line: a harmonic, a product or a tone.
type Line struct {
	// Name is "3" for the third harmonic, "2f2-f1" for a product.
	Name      string  `json:"name"`
	Order     int     `json:"order,omitempty"`
	Frequency float64 `json:"frequency_hz"`
	Amplitude float64 `json:"amplitude"` // peak, full scale 1
	Ratio     float64 `json:"ratio"`     // of amplitudes, re the reference of its table
	Sigma     float64 `json:"sigma"`     // standard uncertainty of Amplitude
	// Phase in radians is that of a harmonic at the fundamental's positive crest.
	Phase    *float64 `json:"phase_rad,omitempty"`
	Resolved bool     `json:"resolved"` // stands clear of the noise
}

// Level returns the line in dB re the reference of its table.
func (l Line) Level() level.DB { return level.FromAmplitude(l.Ratio) }

// Band is the level of one third-octave band.
type Band struct {
	Mid   float64  `json:"mid_hz"`
	Level level.DB `json:"level_db"` // re a full-scale sine
}
