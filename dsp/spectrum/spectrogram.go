package spectrum

import (
	"fmt"

	"gonum.org/v1/gonum/floats"

	"quietcross/dsp/level"
)

// Spectrogram gathers the spectrum of a stream over time in a bounded number of
// columns: when they are full, neighbours are merged by the mean of their powers
// and each column stands for twice the time. An hour takes the memory of a minute.
type Spectrogram struct {
	rate    float64
	size    int
	hop     int
	window  Window
	stream  *transformer
	limit   int
	columns [][]float64
	each    int // segments in a full column
	current []float64
	filled  int // segments in current
}

// Map is a spectrogram as a matrix, with its axes.
type Map struct {
	Times       []float64    // centre of each column, seconds from the first sample
	Frequencies []float64    // of each row, hertz
	Level       [][]level.DB // [column][row], dB re a full-scale sine; -Inf for digital silence
}

// NewSpectrogram returns a spectrogram of segments of size samples (a power of
// two of at least 16) every hop samples (1 to size), holding at most limit
// columns (even, at least 2). It panics outside these. Rate is in hertz. The
// memory is about 4·size·limit bytes.
func NewSpectrogram(rate float64, size, hop int, w Window, limit int) *Spectrogram {
	if limit < 2 || limit%2 != 0 {
		panic(fmt.Sprintf("spectrum: limit of %d columns, legal are even numbers from 2", limit))
	}
	return &Spectrogram{
		rate: rate, size: size, hop: hop, window: w, limit: limit, each: 1,
		stream:  newTransformer(size, hop, w),
		current: make([]float64, size/2+1),
	}
}

// Add takes the next samples, any number.
func (g *Spectrogram) Add(x []float64) { g.stream.add(x, g.segment) }

func (g *Spectrogram) segment(power []float64) {
	if len(g.columns) == g.limit {
		g.merge()
	}
	floats.Add(g.current, power)
	g.filled++
	if g.filled == g.each {
		g.columns = append(g.columns, g.current)
		g.current, g.filled = make([]float64, g.size/2+1), 0
	}
}

// merge halves the number of columns. It is called with no column unfinished.
func (g *Spectrogram) merge() {
	half := len(g.columns) / 2
	for k := range half {
		sum := g.columns[2*k]
		for i, p := range g.columns[2*k+1] {
			sum[i] += p
		}
		g.columns[k] = sum
	}
	clear(g.columns[half:])
	g.columns = g.columns[:half]
	g.each *= 2
}

// Map returns what was gathered so far. A last column that stands for less time
// than the others is included.
func (g *Spectrogram) Map() *Map {
	m := &Map{}
	for i := range g.size/2 + 1 {
		m.Frequencies = append(m.Frequencies, float64(i)*g.rate/float64(g.size))
	}
	for k, sums := range g.columns {
		m.add(g, k, sums, g.each)
	}
	if g.filled > 0 {
		m.add(g, len(g.columns), g.current, g.filled)
	}
	return m
}

func (m *Map) add(g *Spectrogram, column int, sums []float64, segments int) {
	s := Spectrum{Size: g.size, Window: g.window, Power: append([]float64(nil), sums...)}
	s.calibrate(segments)
	levels := make([]level.DB, len(sums))
	for i := range levels {
		levels[i] = s.Level(i)
	}
	first := float64(column * g.each * g.hop)
	centre := first + float64((segments-1)*g.hop)/2 + float64(g.size)/2
	m.Times = append(m.Times, centre/g.rate)
	m.Level = append(m.Level, levels)
}
