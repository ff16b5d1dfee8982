package measure

import (
	"io"

	"quietcross/dsp/wave"
)

// audio measures planar audio in memory.
func audio(x [][]float64, rate int, o Options) (*Report, error) {
	return Run(&memory{x: x, rate: rate}, o)
}

// memory is planar audio as a stream.
type memory struct {
	x    [][]float64
	rate int
	at   int
}

func (m *memory) Format() wave.Format {
	return wave.Format{Rate: m.rate, Channels: len(m.x), Encoding: wave.Float, Bits: 64, ValidBits: 64}
}

func (m *memory) Read(dst [][]float64) (int, error) {
	n := 0
	for c, x := range m.x {
		n = copy(dst[c], x[m.at:])
	}
	m.at += n
	if n == 0 {
		return 0, io.EOF
	}
	return n, nil
}
