package engine

import (
	"math"

	"quietcross/dsp/shape"
)

// A way takes blocks of stage input through a law and, in step with it, through the
// ideal linear stage. A new law starts with the memory that it would have had if it had
// played all along, and is faded in over the old one; until that is done the next one
// waits, and of several that come meanwhile the last.
type way struct {
	lanes   []*lane
	present *voice
	coming  *voice // fading in, nil when none is
	spare   []*voice
	waiting *shape.Law
	faded   int // frames of the fade that are done
	fade    int // frames that it takes
	latency int // frames
}

// A lane is what one channel has in common for all laws.
type lane struct {
	source    *shape.Source
	high      []float64 // stage input, V, at the high rate: memory frames and a block
	reference *shape.Branch
	ref       []float64
}

// A voice is one law on all lanes.
type voice struct {
	law      *shape.Law
	branches []*shape.Branch
	out      [][]float64
}

const (
	// MaximumBlock is how many frames go through a way at a time.
	MaximumBlock = 512
	// memory is how many frames of input a branch depends on at most: those of the filters
	// down and after, 153 with the law's own, and some room.
	memory = 192
)

// newWay begins with a law; fade is the length of crossfades in frames.
func newWay(law *shape.Law, channels, fade int) *way {
	w := &way{fade: fade, latency: shape.Latency(oversample)}
	for range channels {
		w.lanes = append(w.lanes, &lane{
			source:    shape.NewSource(oversample),
			high:      make([]float64, (memory+MaximumBlock)*oversample),
			reference: shape.NewBranch(shape.Linear(1), oversample),
			ref:       make([]float64, MaximumBlock),
		})
	}
	w.present = w.voice(law)
	return w
}

// voice returns a law on all lanes, with the lanes' past behind it.
func (w *way) voice(law *shape.Law) *voice {
	v := w.silent(law)
	for c, l := range w.lanes {
		v.branches[c].Process(v.out[c][:memory], l.high[:memory*oversample])
	}
	return v
}

// silent returns a law on all lanes before the first sample.
func (w *way) silent(law *shape.Law) *voice {
	if last := len(w.spare) - 1; last >= 0 {
		v := w.spare[last]
		w.spare, v.law = w.spare[:last], law
		for _, b := range v.branches {
			b.Renew(law)
		}
		return v
	}
	v := &voice{law: law}
	for range w.lanes {
		v.branches = append(v.branches, shape.NewBranch(law, oversample))
		v.out = append(v.out, make([]float64, MaximumBlock))
	}
	return v
}

// past is how many frames of input a way depends on at most: beside those of a branch those
// of the filters before and up, 138, and some room.
const past = memory + 160

// A point is what of a way its input does not tell.
type point struct {
	present, coming, waiting *shape.Law // nil where there is none
	faded                    int
}

// point returns it.
func (w *way) point() point {
	return point{present: w.present.law, coming: w.fading(), waiting: w.waiting, faded: w.faded}
}

// resume puts the way where it was at a point, after the last past frames of input of each
// channel, V.
func (w *way) resume(at point, in [][]float64) {
	for c, l := range w.lanes {
		l.source.Reset()
		before := in[c][:past-memory]
		l.source.Process(l.high[:len(before)*oversample], before)
		l.source.Process(l.high[:memory*oversample], in[c][past-memory:])
		l.reference.Reset()
		l.reference.Process(l.ref[:memory], l.high[:memory*oversample])
	}
	for _, v := range []*voice{w.present, w.coming} {
		if v != nil {
			w.spare = append(w.spare, v)
		}
	}
	w.present, w.coming, w.waiting, w.faded = w.voice(at.present), nil, at.waiting, at.faded
	if at.coming != nil {
		w.coming = w.voice(at.coming)
	}
}

// set asks for a law.
func (w *way) set(law *shape.Law) {
	if w.coming == nil {
		w.coming, w.faded = w.voice(law), 0
		return
	}
	w.waiting = law
}

// process takes a block of stage input, V. What comes out is in out and reference, and
// stays there until the next block. It returns the share that the newer law has in a fade
// at the block's end, 1 when it is over.
func (w *way) process(in [][]float64) (share float64) {
	n := len(in[0])
	for c, l := range w.lanes {
		high := l.high[memory*oversample : (memory+n)*oversample]
		l.source.Process(high, in[c])
		l.reference.Process(l.ref[:n], high)
		w.present.branches[c].Process(w.present.out[c][:n], high)
		if w.coming != nil {
			w.coming.branches[c].Process(w.coming.out[c][:n], high)
		}
		copy(l.high, l.high[n*oversample:(memory+n)*oversample])
	}
	if w.coming == nil {
		return 1
	}
	return w.crossfade(n)
}

// crossfade mixes the two laws' outputs into the first one's place.
func (w *way) crossfade(n int) (share float64) {
	for i := range n {
		t := min(1, float64(w.faded+i+1)/float64(w.fade))
		share = 0.5 - 0.5*math.Cos(math.Pi*t)
		for c, out := range w.present.out {
			out[i] += share * (w.coming.out[c][i] - out[i])
		}
	}
	if w.faded += n; w.faded < w.fade {
		return share
	}
	w.coming.out, w.present.out = w.present.out, w.coming.out // where the mix is
	w.spare = append(w.spare, w.present)
	w.present, w.coming = w.coming, nil
	if w.waiting != nil {
		w.set(w.waiting)
		w.waiting = nil
	}
	return 1
}

// fading returns the law that is being faded in, nil outside a fade.
func (w *way) fading() *shape.Law {
	if w.coming == nil {
		return nil
	}
	return w.coming.law
}

// out returns the stage's output of a channel, V, n frames.
func (w *way) out(channel, n int) []float64 { return w.present.out[channel][:n] }

// reference returns the ideal stage's output of a channel at unity gain, V, n frames.
func (w *way) reference(channel, n int) []float64 { return w.lanes[channel].ref[:n] }

// target returns the law that will sound when all fades are done.
func (w *way) target() *shape.Law {
	switch {
	case w.waiting != nil:
		return w.waiting
	case w.coming != nil:
		return w.coming.law
	}
	return w.present.law
}
