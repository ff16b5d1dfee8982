package render

import (
	"slices"
	"sync"
)

// What renderings of one piece have in common beside the reference is the signal at the
// oversampled rate. It is large, so that a bench keeps that of the pieces rendered last
// only, and lets go first what has waited longest.

// raisedBytes is what is kept for each worker: five seconds of two channels at sixteen times
// 48 kHz, and no more of a longer piece.
const raisedBytes = 64 << 20

// raised are the oversampled signals that a bench keeps.
type raised struct {
	capacity int // bytes

	mu    sync.Mutex
	order []*Piece // the one rendered last at the end
	kept  map[*Piece][][]float64
}

func newRaised(workers int) *raised {
	return &raised{capacity: workers * raisedBytes, kept: map[*Piece][][]float64{}}
}

// of returns what is kept of a piece, nil if nothing is.
func (r *raised) of(p *Piece) [][]float64 {
	r.mu.Lock()
	defer r.mu.Unlock()
	signal, ok := r.kept[p]
	if ok {
		r.order = append(slices.DeleteFunc(r.order, func(have *Piece) bool { return have == p }), p)
	}
	return signal
}

// fits tells whether a piece of so many values may be kept.
func (r *raised) fits(values int) bool { return 8*values <= raisedBytes }

// keep keeps a piece's signal and lets others go until all fit.
func (r *raised) keep(p *Piece, signal [][]float64) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if _, ok := r.kept[p]; ok {
		return
	}
	r.kept[p], r.order = signal, append(r.order, p)
	for r.bytes() > r.capacity {
		delete(r.kept, r.order[0])
		r.order = r.order[1:]
	}
}

func (r *raised) bytes() int {
	sum := 0
	for _, signal := range r.kept {
		for _, channel := range signal {
			sum += 8 * len(channel)
		}
	}
	return sum
}

// upRecorder is a way up whose output is kept.
type upRecorder struct {
	upsampler
	out []float64
}

func (r *upRecorder) Process(high, src []float64) {
	r.upsampler.Process(high, src)
	r.out = append(r.out, high...)
}

// upReplay is a way up that plays what was recorded of another on the same input.
type upReplay struct{ left []float64 }

func (r *upReplay) Process(high, _ []float64) { r.left = r.left[copy(high, r.left):] }
