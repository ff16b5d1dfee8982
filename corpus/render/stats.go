package render

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"quietcross/corpus"
	"quietcross/dsp/level"
)

// stats sums what the level of a track needs, over all channels.
type stats struct {
	count int64
	sum   float64
	power float64
	peak  float64
}

// add takes one planar block.
func (s *stats) add(y [][]float64) {
	for _, channel := range y {
		s.count += int64(len(channel))
		s.sum += floats.Sum(channel)
		s.power += floats.Dot(channel, channel)
		s.peak = max(s.peak, level.Peak(channel))
	}
}

// rms returns the root mean square.
func (s *stats) rms() float64 { return math.Sqrt(s.power / float64(max(s.count, 1))) }

// mean returns the mean.
func (s *stats) mean() float64 { return s.sum / float64(max(s.count, 1)) }

// fit sums what the best-fitting gain of an output to its reference needs, over
// all channels.
type fit struct{ cross, power float64 }

// add takes one planar block of output y and of reference r.
func (f *fit) add(y, r [][]float64) {
	for c := range y {
		f.cross += floats.Dot(y[c], r[c])
		f.power += floats.Dot(r[c], r[c])
	}
}

// gain returns the gain that fits best in the least-squares sense, and zero
// when the reference is silent.
func (f *fit) gain() float64 {
	if f.power == 0 {
		return 0
	}
	return f.cross / f.power
}

// residualLevel returns the level of what is left re the fitted reference.
func residualLevel(rest, reference *stats, gain float64) level.DB {
	return level.FromAmplitude(rest.rms() / (math.Abs(gain) * reference.rms()))
}

// describe fills in a track's levels as written with gain.
func describe(t *corpus.Track, s *stats, m *level.Loudness, gain level.DB) {
	t.Peak = level.FromAmplitude(s.peak) + gain
	t.RMS = level.FromAmplitude(s.rms()) + gain
	t.Loudness = level.DB(math.Inf(-1))
	if loudness, ok := m.Integrated(); ok {
		t.Loudness = loudness + gain
	}
}
