package survey

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"

	"gonum.org/v1/gonum/stat"

	"quietcross/dsp/intake"
	"quietcross/dsp/level"
	"quietcross/dsp/planar"
	"quietcross/dsp/resample"
	"quietcross/dsp/spectrum"
	"quietcross/reports/audibility"
)

// A recording is read once from end to end in blocks. Kept of it are eight bytes for each
// tenth of a second (its loudness over time), the peak, and a power spectrum averaged
// over one block in each second. A second reading, up to the end of the last excerpt,
// takes the excerpts out.

// Properties are what a recording's threshold is set against.
type Properties struct {
	// Seconds is its length, and Format its samples in words.
	Seconds float64 `json:"seconds"`
	Format  string  `json:"format"`
	// Loudness is the programme loudness, LUFS, and Peak the sample peak, dBFS.
	Loudness level.DB `json:"loudness_lufs"`
	Peak     level.DB `json:"peak_dbfs"`
	// Range is the loudness range, LU (EBU Tech 3342), nil under three seconds.
	Range *level.DB `json:"loudness_range_lu,omitempty"`
	// Quietest is the loudness of the quietest three seconds that are not silence, LUFS,
	// nil under three seconds.
	Quietest *level.DB `json:"quietest_lufs,omitempty"`
	// Tilt is the slope of the mean spectrum in third-octave bands, dB an octave: 0 for
	// pink noise, about 3 for white. Nil where too little of it is above -120 dBFS.
	Tilt *float64 `json:"tilt_db_octave,omitempty"`
}

// A scanned recording is what excerpts are chosen from.
type scanned struct {
	Properties
	meter    *level.Loudness
	warnings []string
}

// maxHours bounds a recording, and with it the memory of its course of loudness.
const maxHours = 24

// maxChannels is what the ear models hear.
const maxChannels = 2

// minSeconds is the shortest recording that has a loudness: one gating block of BS.1770.
const minSeconds = 0.4

// open opens a recording and refuses what cannot be surveyed.
func (f File) open() (intake.Stream, error) {
	stream, err := intake.Open(f.Path)
	if err != nil {
		return nil, err
	}
	format := stream.Format()
	seconds := float64(stream.Frames()) / float64(format.Rate)
	switch {
	case format.Channels > maxChannels:
		err = fmt.Errorf("%d channels; the prediction hears one or two", format.Channels)
	case seconds < minSeconds:
		err = fmt.Errorf("%.3g s long; legal are %g s and more", seconds, minSeconds)
	case seconds > maxHours*3600:
		err = fmt.Errorf("%.3g hours long; legal are up to %d", seconds/3600, maxHours)
	default:
		_, err = resample.NewConverter(format.Rate, audibility.EarRate)
	}
	if err != nil {
		return nil, errors.Join(err, stream.Close())
	}
	return stream, nil
}

// block is the number of frames read at once, and of one spectrum.
const block = 4096

// scan reads a whole recording.
func (f File) scan(ctx context.Context) (*scanned, error) {
	stream, err := f.open()
	if err != nil {
		return nil, err
	}
	defer stream.Close()
	format := stream.Format()
	rate := float64(format.Rate)
	s := &scanned{meter: level.NewLoudness(rate, format.Channels)}
	s.Format = format.String()
	every := max(1, int(math.Round(rate/block)))
	var mean spectrum.Spectrum
	peak, frames := 0.0, 0
	work := planar.New(format.Channels, block)
	for n := 0; ; n++ {
		audio, err := readBlock(ctx, stream, work)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		s.meter.Add(audio)
		frames += audio.Frames()
		for _, x := range audio {
			peak = max(peak, level.Peak(x))
			if n%every == 0 && len(x) == block {
				addPower(&mean, spectrum.Of(x, rate, spectrum.Hann))
			}
		}
	}
	s.warnings = stream.Warnings()
	s.Seconds, s.Peak = float64(frames)/rate, level.FromAmplitude(peak)
	return s, s.describe(&mean)
}

// describe works out the properties of what was read.
func (s *scanned) describe(mean *spectrum.Spectrum) error {
	var ok bool
	if s.Loudness, ok = s.meter.Integrated(); !ok {
		return errors.New("silent: nothing in it is louder than -70 LUFS")
	}
	if r, ok := s.meter.Range(); ok {
		s.Range = &r
	}
	for _, l := range s.meter.Sliding(level.ShortTermSeconds) {
		if l > silence && (s.Quietest == nil || l < *s.Quietest) {
			s.Quietest = &l
		}
	}
	if tilt, ok := tiltOf(mean); ok {
		s.Tilt = &tilt
	}
	return nil
}

// readBlock fills audio and returns what of it there is; io.EOF follows the last.
func readBlock(ctx context.Context, stream intake.Stream, audio planar.Audio) (planar.Audio, error) {
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	n := 0
	for n < audio.Frames() {
		got, err := stream.Read(audio.Cut(n, audio.Frames()))
		n += got
		if err != nil && !(errors.Is(err, io.EOF) && n > 0) {
			return nil, err
		}
		if err != nil || got == 0 {
			break
		}
	}
	return audio.Cut(0, n), nil
}

// addPower adds the powers of a spectrum to a sum.
func addPower(sum, s *spectrum.Spectrum) {
	if sum.Power == nil {
		*sum = *s
		return
	}
	for i, p := range s.Power {
		sum.Power[i] += p
	}
	sum.Segments += s.Segments
}

// The bands over which a tilt is fitted, and the minimum level and count of those that
// are in the fit.
const (
	tiltLow, tiltHigh = 100.0, 10000.0

	tiltFloor level.DB = -120

	tiltBands = 6
)

// tiltOf fits a line to the levels of third-octave bands over the logarithm of frequency,
// dB an octave; false where too few bands hold anything.
func tiltOf(sum *spectrum.Spectrum) (float64, bool) {
	if sum.Segments == 0 {
		return 0, false
	}
	mean := *sum
	mean.Power = make([]float64, len(sum.Power))
	for i, p := range sum.Power {
		mean.Power[i] = p / float64(sum.Segments)
	}
	bands := spectrum.ThirdOctaves(tiltLow, min(tiltHigh, 0.4*mean.Rate))
	var octaves, levels []float64
	for i, l := range mean.BandLevels(bands) {
		if l > tiltFloor {
			octaves, levels = append(octaves, math.Log2(bands[i].Mid)), append(levels, float64(l))
		}
	}
	if len(levels) < tiltBands {
		return 0, false
	}
	_, slope := stat.LinearRegression(octaves, levels, nil, false)
	return slope, true
}

// cut takes the stretch of an excerpt out of a recording, at the recording's rate.
func (f File) cut(ctx context.Context, e Excerpt) (planar.Audio, int, error) {
	stream, err := f.open()
	if err != nil {
		return nil, 0, err
	}
	defer stream.Close()
	rate := stream.Format().Rate
	from, to := int(math.Round(e.From*float64(rate))), int(math.Round(e.To*float64(rate)))
	to = min(to, int(stream.Frames()))
	audio := planar.New(stream.Format().Channels, to-from)
	work := planar.New(len(audio), block)
	for at := 0; at < to; {
		got, err := readBlock(ctx, stream, work)
		if err != nil {
			return nil, 0, err
		}
		for c, x := range got {
			if first := max(from-at, 0); first < len(x) {
				copy(audio[c][max(at-from, 0):], x[first:])
			}
		}
		at += got.Frames()
	}
	return audio, rate, nil
}
