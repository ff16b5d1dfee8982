// Package corpus describes a rendered set: what was rendered, from what,
// through what. A set is a folder that holds manifest.json, the resolved stage
// file, the WAV files and the report; measuring, listening and reporting need
// that folder alone.
package corpus

import (
	"fmt"
	"time"

	"quietcross/corpus/bias"
	"quietcross/dsp/level"
)

// SchemaVersion is the version of manifest.json that this program writes and
// the only one that it reads.
const SchemaVersion = 2

// File names inside a set.
const (
	ManifestFile = "manifest.json"
	StageFile    = "stage.toml"
)

// Manifest is the content of manifest.json, the hinge between rendering and
// everything that looks at a rendering afterwards.
type Manifest struct {
	// Schema is the version of this layout, [SchemaVersion].
	Schema int `json:"schema"`
	// Program and Version name what wrote the set.
	Program string `json:"program"`
	Version string `json:"version"`
	// Created is the time of rendering, UTC.
	Created time.Time `json:"created"`
	// Seed drives the dither and the generated material.
	Seed uint64 `json:"seed"`
	// Stage is the name of the stage, as its file gives it.
	Stage string `json:"stage"`
	// Circuit is the circuit kind, for example "complementary-follower".
	Circuit string `json:"circuit"`
	// Solver is "static" (one memoryless transfer law, antialiased) or
	// "dynamic" (the circuit solved in time).
	Solver string `json:"solver"`
	// Oversample is the ratio of the rate at which the stage acts to the
	// file's own rate.
	Oversample int `json:"oversample"`
	// Drive is what digital full scale means at the stage input, V peak.
	Drive float64 `json:"drive_v"`
	// Match is how rendering levels were matched: "loudness", "gain", "off".
	Match string `json:"match"`
	// Drift tells that the bias drifted with the programme's heat.
	Drift bool `json:"drift,omitempty"`
	// Rungs are the bias settings, in the order rendered.
	Rungs []bias.Rung `json:"rungs"`
	// Items are the sources at each level.
	Items []Item `json:"items"`
	// Warnings concern the set as a whole.
	Warnings []string `json:"warnings,omitempty"`
}

// Item is one source at one level: a reference and one rendering a rung.
type Item struct {
	// ID is the item's folder inside the set, for example
	// "plucked-string/-30dB".
	ID string `json:"id"`
	// Source is what was rendered.
	Source Source `json:"source"`
	// Level is relative to the drive.
	Level level.DB `json:"level_db"`
	// Rate is the sampling rate, Hz; Channels and Frames are those of every
	// track of the item.
	Rate     int   `json:"rate_hz"`
	Channels int   `json:"channels"`
	Frames   int64 `json:"frames"`
	// Trim is the gain applied to every track of the item alike, so that the
	// loudest matched peak stays within full scale; 0 when none was needed.
	Trim level.DB `json:"trim_db"`
	// Reference is the same route through an ideal linear stage.
	Reference Track `json:"reference"`
	// Renderings stand in the order of [Manifest.Rungs].
	Renderings []Rendering `json:"renderings"`
	Warnings   []string    `json:"warnings,omitempty"`
}

// Source is a file or a piece of built-in material.
type Source struct {
	// Name is the file's base name or the material's name.
	Name string `json:"name"`
	// Material tells that Name is built-in material.
	Material bool `json:"material"`
	// Kind is "tone", "two-tone", "multitone", "ladder", "silence" or
	// "programme".
	Kind string `json:"kind"`
	// Tones are the components of a tone or two-tone, Hz, at the source.
	Tones []float64 `json:"tones_hz,omitempty"`
	// Title and Shows say what built-in material is meant to show.
	Title string `json:"title,omitempty"`
	Shows string `json:"shows,omitempty"`
	// Format is the source's sample format in words, "24-bit PCM".
	Format string `json:"format"`
}

// Track is one WAV file of the set.
type Track struct {
	// File is the path inside the set, with forward slashes.
	File string `json:"file"`
	// Peak is the sample peak re full scale.
	Peak level.DB `json:"peak_dbfs"`
	// RMS is re full scale (a full-scale sine reads -3.01), over all channels
	// and frames.
	RMS level.DB `json:"rms_dbfs"`
	// Loudness is integrated loudness after BS.1770, LUFS; null when nothing
	// passes its gate.
	Loudness level.DB `json:"loudness_lufs"`
	// Clipped counts samples limited to the format's range.
	Clipped int64 `json:"clipped"`
}

// Rendering is one rung's output for an item, and what is left when the
// linear part is taken out.
type Rendering struct {
	Track
	// Gain is the gain that fits the stage's output to the reference best in
	// the least-squares sense, before matching (V/V).
	Gain float64 `json:"gain"`
	// Applied is the matching gain that was applied to the file.
	Applied level.DB `json:"applied_db"`
	// Inverted tells that the stage inverts and that the file's polarity was
	// turned back, as matching does.
	Inverted bool `json:"inverted,omitempty"`
	// Residual is output minus Gain times reference.
	Residual Residual `json:"residual"`
	// Power is nil where it was not computed.
	Power *Power `json:"power,omitempty"`
	// OutOfRange counts oversampled inputs beyond the range over which the
	// stage was solved.
	OutOfRange int64 `json:"out_of_range"`
	// Steps is nil where the stage was solved as a law.
	Steps *Steps `json:"steps,omitempty"`
}

// Steps counts the steps in time of all channels of a rendering.
type Steps struct {
	// Taken is how many there were, each of a few oversampled samples; Split is how
	// many of them were split because a voltage or current moved abruptly.
	Taken int64 `json:"taken"`
	Split int64 `json:"split"`
	// Retried is how many times a step or a part of one did not settle and was split
	// for that. All did in the end, or there were no rendering.
	Retried int64 `json:"retried"`
}

// Power is where one channel's stage puts its power, in the mean over an item.
type Power struct {
	// Supply is drawn from the supplies, Load goes into the load, Dissipation is
	// the heat of all devices, W.
	Supply      float64 `json:"supply_w"`
	Load        float64 `json:"load_w"`
	Dissipation float64 `json:"dissipation_w"`
	// Efficiency is Load over Supply.
	Efficiency float64 `json:"efficiency"`
	// Settled is where the stage would come to rest if the item went on for ever; nil
	// for silence.
	Settled *bias.Thermal `json:"settled,omitempty"`
	// Reached is where it was at the end of the item, of a stage whose bias
	// drifts, K; 0 otherwise.
	Reached float64 `json:"junction_reached_k,omitempty"`
	// Excursion is the maximum displacement of a loudspeaker's cone from rest, m;
	// 0 where the load is no loudspeaker whose force factor is known.
	Excursion float64 `json:"cone_excursion_m,omitempty"`
}

// Residual is the file that holds what the stage added.
type Residual struct {
	Track
	// Level is the residual's RMS re the fitted reference's RMS, before
	// make-up.
	Level level.DB `json:"level_db"`
	// Offset is the mean of the residual, V at the stage's output.
	Offset float64 `json:"offset_v"`
	// MakeUp is the gain added to the file, so that it can be heard.
	MakeUp level.DB `json:"make_up_db"`
}

// AllWarnings returns the set's warnings, those of its items, and one for each
// track that was clipped or driven beyond the solved range, each with the place
// that it concerns.
func (m *Manifest) AllWarnings() []string {
	warnings := append([]string(nil), m.Warnings...)
	for i := range m.Items {
		item := &m.Items[i]
		for _, w := range item.Warnings {
			warnings = append(warnings, item.ID+": "+w)
		}
		warnings = append(warnings, item.Reference.warnings()...)
		for _, r := range item.Renderings {
			warnings = append(warnings, r.warnings()...)
			warnings = append(warnings, r.Residual.warnings()...)
			if r.OutOfRange > 0 {
				warnings = append(warnings, fmt.Sprintf("%s: %d oversampled inputs lay beyond the range over which the stage was solved", r.File, r.OutOfRange))
			}
		}
	}
	return warnings
}

func (t *Track) warnings() []string {
	if t.Clipped == 0 {
		return nil
	}
	return []string{fmt.Sprintf("%s: %d samples were clipped to the format's range", t.File, t.Clipped)}
}
