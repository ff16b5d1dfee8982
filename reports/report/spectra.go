package report

import (
	"math"

	"quietcross/dsp/level"
	"quietcross/dsp/spectrum"
)

const (
	lowest  = 20.0    // Hz, the lower end of everything spectral
	highest = 20000.0 // Hz, the upper end, or half the rate if that is less

	toneSize    = 1 << 16 // samples of a tone's spectrum at most
	welchSize   = 1 << 14 // samples of a segment for programme
	octaveCells = 48      // cells an octave of a tone's spectrum
)

// Spectrum is a one-shot spectrum of a tone, thinned to its strongest line in
// each of 48 cells an octave. Frequency is that of the line, Hz, and Level re a
// full-scale sine.
type Spectrum struct {
	Size      int
	Window    string
	Frequency []float64
	Level     []level.DB
}

// top is the upper end of spectra at a rate.
func top(rate int) float64 { return min(highest, float64(rate)/2) }

// steady reads the middle of a file: the longest power of two of samples that
// is there, at most [toneSize]. It returns nil for a file under 1024 samples.
func (t track) steady(file string, channel int) ([]float64, error) {
	size := steadySize(t.item.Frames)
	if size == 0 {
		return nil, nil
	}
	return t.stretch(file, channel, (t.item.Frames-size)/2, size)
}

// steadySize is the number of frames that a tone's spectrum is taken of; 0 where there
// are too few.
func steadySize(frames int64) int64 {
	size := int64(toneSize)
	for size > frames {
		size /= 2
	}
	if size < 1024 {
		return 0
	}
	return size
}

// thin keeps the strongest line of each cell.
func thin(s *spectrum.Spectrum) *Spectrum {
	out := &Spectrum{Size: s.Size, Window: s.Window.String()}
	cell := math.Inf(-1)
	for i := range s.Power {
		f := s.Frequency(i)
		if f < lowest || f > highest {
			continue
		}
		here := math.Floor(octaveCells * math.Log2(f/lowest))
		last := len(out.Level) - 1
		switch l := s.Level(i); {
		case here != cell:
			out.Frequency = append(out.Frequency, f)
			out.Level = append(out.Level, l)
			cell = here
		case l > out.Level[last]:
			out.Frequency[last], out.Level[last] = f, l
		}
	}
	return out
}

// thirds gathers third-octave levels of a stream.
type thirds struct {
	average *spectrum.Average
	bands   []spectrum.Band
}

func newThirds(rate int, frames int64) *thirds {
	size := welchSize
	for int64(size) > frames && size > 1024 {
		size /= 2
	}
	return &thirds{
		average: spectrum.NewAverage(float64(rate), size, spectrum.Hann),
		bands:   thirdOctaves(rate),
	}
}

// thirdOctaves are the bands from 25 Hz that lie whole below half the rate.
func thirdOctaves(rate int) []spectrum.Band {
	bands := spectrum.ThirdOctaves(25, highest)
	for len(bands) > 0 && bands[len(bands)-1].High > float64(rate)/2 {
		bands = bands[:len(bands)-1]
	}
	return bands
}

// levels returns the band levels, raised by gain; nil for a stream shorter
// than one segment.
func (t *thirds) levels(gain level.DB) []level.DB {
	s, ok := t.average.Spectrum()
	if !ok {
		return nil
	}
	levels := s.BandLevels(t.bands)
	for i := range levels {
		levels[i] += gain
	}
	return levels
}
