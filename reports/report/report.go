package report

import (
	"slices"
	"time"

	"quietcross/corpus"
	"quietcross/corpus/bias"
	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/stage"
)

// SchemaVersion is the version of report.json that this program writes.
const SchemaVersion = 3

// Names of the files that [Report.Write] writes into a set.
const (
	ReportFile  = "report.json"
	SpectraFile = "spectra.csv"
)

// Report is what a rendered set was found to be. SCHEMA.md documents it field
// by field. Numbers are in SI base units and decibels; what cannot be measured
// or is silent is null.
type Report struct {
	Schema     int       `json:"schema"`
	Program    string    `json:"program"`
	Version    string    `json:"version"`
	Created    time.Time `json:"created"`
	Seed       uint64    `json:"seed"`
	Stage      string    `json:"stage"`
	Title      string    `json:"title"`
	Circuit    string    `json:"circuit"`
	Solver     string    `json:"solver"`
	Oversample int       `json:"oversample"`
	Drive      float64   `json:"drive_v"`
	Match      string    `json:"match"`
	// Heard is what detection is predicted for.
	Heard hearing.Conditions `json:"conditions"`
	// Optimum is the quiescent current that theory holds best for the stage, A;
	// 0 where it gives none.
	Optimum float64 `json:"optimum_a"`
	Rungs   []Rung  `json:"rungs"`
	Items   []Item  `json:"items"`
	// Correlations are over all renderings of all items together.
	Correlations []Correlation `json:"correlations,omitempty"`
	Warnings     []string      `json:"warnings"`

	// Spec is the stage.
	Spec stage.Spec `json:"-"`

	solved []*bias.Evaluation // a rung each; nil where it could not be set
}

// Rung is one bias setting, what it is in words, and its transfer curve.
type Rung struct {
	bias.Rung
	// Label names the rung in figures, "118 mA".
	Label string `json:"label"`
	// Curve is the transfer around the crossover; nil when the stage has none.
	Curve *Curve `json:"curve,omitempty"`

	// Point is the operating point with no signal; nil when there is none.
	Point *stage.OperatingPoint `json:"-"`
	// Trimmed is the stage with the part that was trimmed for the rung.
	Trimmed stage.Spec `json:"-"`
}

// Curve is a static transfer curve, ascending in In.
type Curve struct {
	In   []float64 `json:"in_v"`
	Out  []float64 `json:"out_v"`
	Gain []float64 `json:"gain"`
}

// Item is one source at one level.
type Item struct {
	ID       string        `json:"id"`
	Source   corpus.Source `json:"source"`
	Level    level.DB      `json:"level_db"`
	Rate     int           `json:"rate_hz"`
	Channels int           `json:"channels"`
	Frames   int64         `json:"frames"`
	// Peak is the highest input of the stage, V.
	Peak float64 `json:"peak_v"`
	// Trim is the gain applied to every track of the item alike.
	Trim level.DB `json:"trim_db"`
	// Channel is the one that was measured, the loudest, counted from 0.
	Channel int `json:"channel"`
	// Excerpt is the stretch that the page plays.
	Excerpt   Excerpt      `json:"excerpt"`
	Reference corpus.Track `json:"reference"`
	// Bands are the mid-band frequencies of the third octaves, Hz, Levels those
	// of the reference in them.
	Bands      []float64   `json:"bands_hz"`
	Levels     []level.DB  `json:"band_levels_dbfs"`
	Crossing   *Crossing   `json:"crossing,omitempty"`
	Renderings []Rendering `json:"renderings"`
	// DetectionOmitted says why no rendering has a [Detection]; empty when they
	// were computed.
	DetectionOmitted string `json:"detection_omitted,omitempty"`
	// Correlations are over the renderings of the item.
	Correlations []Correlation `json:"correlations,omitempty"`
	Warnings     []string      `json:"warnings"`

	// Spectrum is that of the reference, for tones.
	Spectrum *Spectrum `json:"-"`

	weights powers // of the reference
}

// Excerpt is a stretch of an item.
type Excerpt struct {
	Start  int64 `json:"start_frame"`
	Frames int64 `json:"frames"`
}

// Rendering is one rung's output for an item.
type Rendering struct {
	corpus.Rendering
	// Finding is what the bias did, in one sentence.
	Finding string `json:"finding"`
	// Levels are those of the residual in the item's bands, at the scale of the
	// reference: make-up, matching and fitted gain taken out.
	Levels []level.DB `json:"residual_band_levels_dbfs"`
	// Weighted is the residual re the programme through weightings; nil for a
	// file too short for a spectrum.
	Weighted *Weighted `json:"weighted,omitempty"`
	// Detection is nil where [Item.DetectionOmitted] says why, and where nothing
	// passes.
	Detection *Detection `json:"detection,omitempty"`
	// Sine is nil where the rung's law could not be solved.
	Sine *Sine `json:"sine,omitempty"`
	// Harmonics is nil unless the source is a single tone.
	Harmonics *Harmonics `json:"harmonics,omitempty"`

	// Spectrum is that of the rendering, for tones.
	Spectrum *Spectrum `json:"-"`
	// Picture is the excess over the masked threshold; nil without a detection.
	Picture *hearing.Picture `json:"-"`
	// Residue is the spectrogram of the residual, at the scale of the reference.
	Residue *Spectrogram `json:"-"`

	weights powers   // of the residual, as its file holds it
	notes   []string // warnings found while measuring, for the item

	sineNote string // what is missing from Sine
}

// Tonal tells that the source is made of steady tones, so that single lines
// of a spectrum mean something.
func (item *Item) Tonal() bool { return tonal(item.Source.Kind) }

func tonal(kind string) bool {
	switch kind {
	case "tone", "two-tone", "difference-tones", "square-and-tone", "multitone":
		return true
	}
	return false
}

// Noun names what was played: "the tone", "the tones" or "the programme".
func (item *Item) Noun() string {
	switch {
	case item.Source.Kind == "tone":
		return "the tone"
	case item.Tonal():
		return "the tones"
	default:
		return "the programme"
	}
}

// MovesCone tells that the load is a loudspeaker whose cone was followed.
func (item *Item) MovesCone() bool {
	return slices.ContainsFunc(item.Renderings, func(r Rendering) bool { return r.Power != nil && r.Power.Excursion > 0 })
}

// Seconds returns the item's length.
func (item *Item) Seconds() float64 { return float64(item.Frames) / float64(item.Rate) }

// Options say how a set is measured. Zero is a value like any other: begin with
// [DefaultOptions].
type Options struct {
	// Heard is the playback level, the room and the listener that detection is
	// predicted for.
	Heard hearing.Conditions
}

// DefaultOptions predict for [hearing.DefaultConditions].
func DefaultOptions() Options { return Options{Heard: hearing.DefaultConditions()} }
