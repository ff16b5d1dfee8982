package report

import (
	"testing"

	"quietcross/corpus"
)

func TestExcerptIsTheStretchWithMostResidual(t *testing.T) {
	item := &corpus.Item{Rate: 1000, Channels: 1, Frames: 60_000, Renderings: make([]corpus.Rendering, 2)}
	s := &survey{slot: 50, energies: make([]float64, 1200)}
	for i := 700; i < 760; i++ { // 35 s to 38 s
		s.energies[i] = 1
	}
	e := s.excerpt(item)
	if e.Frames != 15_000 || e.Start > 35_000 || e.Start+e.Frames < 38_000 {
		t.Errorf("excerpt %+v does not hold 35 s to 38 s", e)
	}
	item.Frames = 12_000
	if e := s.excerpt(item); e != (Excerpt{0, 12_000}) {
		t.Errorf("a short item plays %+v", e)
	}
}

// Eight rungs in stereo at 192 kHz have to fit the bound on samples.
func TestExcerptIsBounded(t *testing.T) {
	item := &corpus.Item{Rate: 192_000, Channels: 2, Frames: 1 << 40, Renderings: make([]corpus.Rendering, 8)}
	s := &survey{slot: 9600, energies: make([]float64, 1200)}
	if size := s.excerpt(item).Frames * 2 * 2 * 9; size > excerptBytes {
		t.Errorf("%d bytes", size)
	}
}

func TestPeakSlot(t *testing.T) {
	s := &survey{slot: 50, energies: []float64{0, 1, 7, 2}}
	if got := s.peak(); got != 100 {
		t.Errorf("frame %d", got)
	}
}
