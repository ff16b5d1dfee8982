package render

// A keeper keeps a track's blocks until the track is written or used.
type keeper interface {
	write(block [][]float64) error
	// flush makes all that was written readable.
	flush() error
	// close gives up what is kept.
	close() error
}

// memoryKeep keeps a short track in memory, planar, of about so many frames.
type memoryKeep struct {
	audio  [][]float64
	frames int
}

func (m *memoryKeep) write(block [][]float64) error {
	if m.audio == nil {
		m.audio = make([][]float64, len(block))
		for c := range m.audio {
			m.audio[c] = make([]float64, 0, m.frames)
		}
	}
	for c := range block {
		m.audio[c] = append(m.audio[c], block[c]...)
	}
	return nil
}

func (m *memoryKeep) flush() error { return nil }
func (m *memoryKeep) close() error { return nil }
