package measure

import (
	"fmt"
	"math"
	"math/bits"

	"quietcross/dsp/align"
	"quietcross/dsp/level"
	"quietcross/dsp/spectrum"
	"quietcross/dsp/weighting"
)

// Comparison is what a device added to what went into it, channel by channel.
type Comparison struct {
	Rate     float64           `json:"rate_hz"`
	Channels []ChannelResidual `json:"channels"`
	Warnings []string          `json:"warnings,omitempty"`
}

// ChannelResidual is one channel of a comparison.
type ChannelResidual struct {
	Index    int      `json:"index"`
	From     int      `json:"from"` // frames of the capture that the reference covers
	To       int      `json:"to"`
	Inverted bool     `json:"inverted"`
	Figures  []Figure `json:"figures"`
	// Signal and Residual are the third octaves of the capture and of what
	// remains, NonlinearResidual of what no linear response explains.
	Signal            []Band   `json:"signal_bands,omitempty"`
	Residual          []Band   `json:"residual_bands,omitempty"`
	NonlinearResidual []Band   `json:"nonlinear_bands,omitempty"`
	Warnings          []string `json:"warnings,omitempty"`

	// Aligned is the reference as it should be in the capture, Rest the residual,
	// from frame From on.
	Aligned []float64 `json:"-"`
	Rest    []float64 `json:"-"`
}

// Figure returns the figure of a key, false when it was not measured.
func (c *ChannelResidual) Figure(key string) (Figure, bool) { return find(c.Figures, key) }

// CompareOptions say what lies between reference and capture.
type CompareOptions struct {
	// LinearTaps is the length of the linear response that is taken out before
	// the nonlinear share is read: odd, 3 to 1025; 0 for none.
	LinearTaps int
}

// Compare lays reference over capture, planar audio at rates in hertz, and
// reports what differs. A reference of one channel is held against each channel
// of the capture. It returns an error for other channel counts that differ, for
// rates that differ, for illegal options, and when a channel cannot be aligned.
func Compare(reference, capture [][]float64, referenceRate, captureRate int, o CompareOptions) (*Comparison, error) {
	if n := o.LinearTaps; n != 0 && (n < 3 || n > 1025 || n%2 == 0) {
		return nil, fmt.Errorf("measure: %d taps, legal are 0 and odd numbers from 3 to 1025", n)
	}
	if referenceRate != captureRate {
		return nil, fmt.Errorf("measure: the reference is at %d Hz, the capture at %d Hz: convert one to the rate of the other", referenceRate, captureRate)
	}
	if len(capture) == 0 || len(reference) == 0 {
		return nil, fmt.Errorf("measure: reference of %d channels, capture of %d", len(reference), len(capture))
	}
	c := &Comparison{Rate: float64(captureRate)}
	if len(reference) != len(capture) {
		if len(reference) != 1 {
			return nil, fmt.Errorf("measure: the reference has %d channels, the capture %d: want as many, or a reference of one", len(reference), len(capture))
		}
		c.Warnings = append(c.Warnings, fmt.Sprintf("a reference of one channel is held against each of %d", len(capture)))
	}
	for i, x := range capture {
		a, err := align.Align(reference[min(i, len(reference)-1)], x, align.Options{LinearTaps: o.LinearTaps})
		if err != nil {
			return nil, fmt.Errorf("measure: channel %d: %w", i, err)
		}
		c.Channels = append(c.Channels, channelResidual(i, a, c.Rate))
	}
	return c, nil
}

func channelResidual(index int, a *align.Result, rate float64) ChannelResidual {
	r := ChannelResidual{
		Index: index, From: a.From, To: a.To, Inverted: a.Inverted, Warnings: a.Warnings,
		Aligned: a.Aligned, Rest: a.Residual,
	}
	signal := average(a.Aligned, rate)
	residual := average(a.Residual, rate)
	r.Figures = append(alignment(a, rate), residuals(a, signal, residual, rate)...)
	r.Signal, r.Residual = thirdOctaves(signal, rate), thirdOctaves(residual, rate)
	if a.Response != nil {
		nonlinear := average(a.NonlinearResidual, rate)
		r.NonlinearResidual = thirdOctaves(nonlinear, rate)
		const note = "RMS of what a linear response of %d taps does not explain, re the aligned reference; noise counts in it"
		r.Figures = append(r.Figures,
			Figure{Key: "nonlinear", Title: "nonlinear residual", Value: a.NonlinearRatio(), Unit: Ratio, Definition: fmt.Sprintf(note, len(a.Response))},
			Figure{Key: "nonlinear_share", Title: "nonlinear share of the residual", Value: a.NonlinearShare(), Unit: Share, Definition: "of the residual's power, what no linear response explains"},
		)
	}
	return r
}

// alignment returns the figures of how the two lay.
func alignment(a *align.Result, rate float64) []Figure {
	return []Figure{
		{Key: "delay", Title: "delay", Value: a.Delay, Sigma: a.DelaySigma, Unit: Samples, Definition: "least squares; of the capture behind the reference at its first frame"},
		{Key: "delay_time", Title: "delay", Value: a.Delay / rate, Sigma: a.DelaySigma / rate, Unit: Seconds, Definition: "the same over the rate"},
		{Key: "drift", Title: "clock drift", Value: a.Drift, Sigma: a.DriftSigma, Unit: PerUnit, Definition: "least squares; how much faster the reference runs than the capture's clock"},
		{Key: "gain", Title: "gain", Value: math.Abs(a.Gain), Sigma: a.GainSigma, Unit: Ratio, Definition: "least squares, magnitude"},
		{Key: "dc", Title: "DC", Value: a.DC, Unit: FullScale, Definition: "constant of the capture, least squares"},
		{Key: "correlation", Title: "correlation", Value: a.Correlation, Unit: Share, Definition: "maximum normalised correlation of a stretch"},
	}
}

// residuals returns the figures of what remains after gain and delay.
func residuals(a *align.Result, signal, residual *spectrum.Spectrum, rate float64) []Figure {
	const low = 20
	high := min(20000, rate/2)
	weighted := func(gain func(float64) float64) float64 {
		below := signal.WeightedMeanSquare(low, high, gain)
		if below == 0 {
			return 0
		}
		return math.Sqrt(residual.WeightedMeanSquare(low, high, gain) / below)
	}
	const re = ", residual re aligned reference, each so weighted, 20 Hz to 20 kHz"
	return []Figure{
		{Key: "residual", Title: "residual", Value: a.ResidualRatio(), Unit: Ratio, Definition: "RMS of capture less aligned reference re the aligned reference, DC apart"},
		{Key: "residual_level", Title: "residual level", Value: level.RMS(a.Residual), Unit: FullScale, Definition: "RMS of capture less aligned reference"},
		{Key: "residual_a", Title: "A-weighted residual", Value: weighted(weighting.ResponseA), Unit: Ratio, Definition: "IEC 61672-1" + re},
		{Key: "residual_468", Title: "468-weighted residual", Value: weighted(weighting.Response468), Unit: Ratio, Definition: "network of ITU-R BS.468-4, RMS" + re},
	}
}

// average returns the mean spectrum of an aligned stretch, at least a few hundred
// samples long.
func average(x []float64, rate float64) *spectrum.Spectrum {
	size := min(1<<(bits.Len(uint(len(x)))-1), bandSize)
	a := spectrum.NewAverage(rate, size, spectrum.Hann)
	a.Add(x)
	s, _ := a.Spectrum() // size is at most len(x)
	return s
}
