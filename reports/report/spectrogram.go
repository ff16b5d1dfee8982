package report

import (
	"math"

	"quietcross/dsp/level"
	"quietcross/dsp/spectrum"
)

const (
	mapSize    = 1 << 12 // samples of a segment of a spectrogram
	mapColumns = 256     // columns at most
	mapRows    = 120     // rows, each the same ratio wide
)

// Spectrogram is the level of a signal over time and frequency. Rows stand at
// equal ratios from Low to High, Hz, the lowest first; columns at equal times
// from 0 to Seconds. Each cell is the strongest line that falls into it, dB re
// a full-scale sine; where lines are further apart than rows, the nearest line.
type Spectrogram struct {
	Low, High  float64
	Seconds    float64
	Cols, Rows int
	Level      []float32 // Rows rows of Cols values
}

func newSpectrogram(rate int, frames int64) *spectrum.Spectrogram {
	size := mapSize
	for int64(size) > frames/8 && size > 256 {
		size /= 2
	}
	// Where a column holds many segments anyway, they need not overlap as much.
	hop := size / 4
	if frames > int64(4*mapColumns*hop) {
		hop = size / 2
	}
	return spectrum.NewSpectrogram(float64(rate), size, hop, spectrum.BlackmanHarris4, mapColumns)
}

// raster puts a map into cells, raised by gain; nil for an empty map.
func raster(m *spectrum.Map, rate int, gain level.DB) *Spectrogram {
	if len(m.Times) < 2 {
		return nil
	}
	s := &Spectrogram{
		Low: lowest, High: top(rate), Cols: len(m.Times), Rows: mapRows,
		Seconds: (m.Times[1] - m.Times[0]) * float64(len(m.Times)),
	}
	s.Level = make([]float32, s.Rows*s.Cols)
	for row := range s.Rows {
		lo, hi := s.lines(row, m.Frequencies)
		for col, lines := range m.Level {
			strongest := level.DB(math.Inf(-1))
			for _, l := range lines[lo:hi] {
				strongest = max(strongest, l)
			}
			s.Level[row*s.Cols+col] = float32(strongest + gain)
		}
	}
	return s
}

// Edges returns the frequencies between which a row stands, Hz.
func (s *Spectrogram) Edges(row int) (low, high float64) {
	at := func(k int) float64 { return s.Low * math.Pow(s.High/s.Low, float64(k)/float64(s.Rows)) }
	return at(row), at(row + 1)
}

// lines returns the range of lines inside a row, or the one nearest to its
// middle.
func (s *Spectrogram) lines(row int, frequencies []float64) (lo, hi int) {
	step := frequencies[1] - frequencies[0]
	low, high := s.Edges(row)
	lo = int(math.Ceil(low / step))
	hi = min(int(math.Ceil(high/step)), len(frequencies))
	if lo < hi {
		return lo, hi
	}
	nearest := min(int(math.Round(math.Sqrt(low*high)/step)), len(frequencies)-1)
	return nearest, nearest + 1
}
