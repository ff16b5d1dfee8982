package hearing

import (
	"fmt"
	"slices"
	"strings"

	"quietcross/dsp/level"
)

// What a comparison found.

// Through says what a change stands out through: what limits hearing in its band at
// that moment.
type Through uint8

// The limits of hearing.
const (
	// ThroughQuiet: nothing but the threshold in quiet.
	ThroughQuiet Through = iota
	// ThroughRoom: the noise of the room.
	ThroughRoom
	// ThroughAftermath: forward masking by programme that has just ended.
	ThroughAftermath
	// ThroughSkirt: masking that programme in other bands spreads to this one.
	ThroughSkirt
	// ThroughProgramme: programme in the same band.
	ThroughProgramme
)

var throughWords = [...]string{"quiet", "room", "aftermath", "skirt", "programme"}

// String returns the word for t.
func (t Through) String() string { return throughWords[t] }

// MarshalText writes the word for t.
func (t Through) MarshalText() ([]byte, error) { return []byte(t.String()), nil }

// UnmarshalText reads what [Through.MarshalText] writes.
func (t *Through) UnmarshalText(text []byte) error {
	i := slices.Index(throughWords[:], string(text))
	if i < 0 {
		return fmt.Errorf("hearing: through %q: legal are %s", text, strings.Join(throughWords[:], ", "))
	}
	*t = Through(i)
	return nil
}

// Place is a moment and a range of frequency in which a change stands out.
type Place struct {
	// Time is the moment, s from the start. Evidence is gathered over some 0.2 s, so
	// a steady change peaks that much after it begins.
	Time float64 `json:"time_s"`
	// Frequency is the centre of the band with most evidence, Low and High bound the
	// bands with at least a quarter of its evidence, Hz. 0 where there is none.
	Frequency float64 `json:"frequency_hz"`
	Low       float64 `json:"low_hz"`
	High      float64 `json:"high_hz"`
	// Excess is how far the change stands over the masked threshold, all bands
	// together; null for no change.
	Excess level.DB `json:"excess_db"`
	// Through says what it stands out through.
	Through Through `json:"through"`
	// Programme is the level of the reference then, dB SPL without weighting, in the
	// louder channel, not below 0.
	Programme level.DB `json:"programme_db"`
}

// Moment is d' at a time.
type Moment struct {
	// Time is the middle of the first step, s from the start.
	Time float64 `json:"time_s"`
	// DPrime is the d' that a listener has gathered by then.
	DPrime float64 `json:"d_prime"`
	// Reference is the level of the reference, as [Place.Programme].
	Reference level.DB `json:"reference_db"`
}

// Course is d' over time.
type Course struct {
	// Step is the time from one moment to the next, s.
	Step float64 `json:"step_s"`
	// Moments hold the maxima of each stretch of that length.
	Moments []Moment `json:"moments"`
}

// Picture is the excess over the masked threshold against time and frequency.
type Picture struct {
	// Step is the time from one column to the next, s; the first begins at 0.
	Step float64 `json:"step_s"`
	// Edges bound the bands, Hz: one more than a column has values. Each band is one
	// ERB wide.
	Edges []float64 `json:"edges_hz"`
	// Columns hold the maximum excess in each band, dB, not below [PictureFloor].
	Columns [][]float32 `json:"columns"`
}

// Result is what a comparison found.
type Result struct {
	// Config is what the prediction holds for.
	Config Config `json:"-"`
	// Duration is the length of the signals, s.
	Duration float64 `json:"duration_s"`
	// DPrime is the sensitivity d' with which the listener tells test from reference
	// at the best moment; 0 for equal signals, 1 at threshold, not a number where a
	// sample was none.
	DPrime float64 `json:"d_prime"`
	// Right is the probability of a right answer in each task, indexed by [Task].
	Right [taskCount]float64 `json:"right"`
	// Strongest is where the change stands out most.
	Strongest Place `json:"strongest"`
	// Course is d' over time.
	Course Course `json:"course"`
	// Picture is the excess over the masked threshold.
	Picture Picture `json:"picture"`
}

// FirstHeard returns the time in seconds at which d' first reaches limit (above 0),
// and false if it never does. Its resolution is the course's step.
func (r *Result) FirstHeard(limit float64) (seconds float64, ok bool) {
	for _, m := range r.Course.Moments {
		if m.DPrime >= limit {
			return min(m.Time, r.Duration), true
		}
	}
	return 0, false
}
