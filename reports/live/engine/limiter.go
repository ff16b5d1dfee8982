package engine

import "math"

// A limiter keeps peaks within full scale. It looks ahead: the gain that each sample
// needs is held for the length of the look, then averaged over it, so that the gain
// has come down when the peak arrives and no step is heard. What is within full scale
// passes untouched to the bit, as late as the look is long.
type limiter struct {
	need  []float64   // gain needed by each of the last frames, a ring one longer than the look
	last  int         // the newest in it
	held  []float64   // minimum of need, a ring
	delay [][]float64 // [channel], rings
	at    int
	look  int // frames
	calm  int // frames since any gain was needed
	worst float64
}

// look is the player's limiter's look ahead, frames.
const look = 64

// newLimiter returns a limiter that looks so many frames ahead.
func newLimiter(channels, look int) *limiter {
	l := &limiter{need: make([]float64, look+1), held: make([]float64, look), look: look, calm: 2 * look, worst: 1}
	for i := range l.need {
		l.need[i] = 1
	}
	for i := range l.held {
		l.held[i] = 1
	}
	for range channels {
		l.delay = append(l.delay, make([]float64, look))
	}
	return l
}

// resume puts the limiter where another one of as many channels and of the same look was.
func (l *limiter) resume(other *limiter) {
	need, held, delay := l.need, l.held, l.delay
	*l = *other
	l.need, l.held, l.delay = need, held, delay
	copy(l.need, other.need)
	copy(l.held, other.held)
	for c := range l.delay {
		copy(l.delay[c], other.delay[c])
	}
}

// process limits all channels alike, in place.
func (l *limiter) process(block [][]float64) {
	for i := range block[0] {
		peak := 0.0
		for _, x := range block {
			peak = max(peak, math.Abs(x[i]))
		}
		gain := l.gain(peak)
		l.worst = min(l.worst, gain)
		for c, x := range block {
			x[i], l.delay[c][l.at] = gain*l.delay[c][l.at], x[i]
		}
		l.at = (l.at + 1) % l.look
	}
}

// gain returns the gain of the sample that leaves when one of a peak enters.
func (l *limiter) gain(peak float64) float64 {
	need := 1.0
	if peak > 1 {
		need = 1 / peak
		l.calm = 0
	}
	l.last = (l.last + 1) % len(l.need)
	l.need[l.last] = need
	if l.calm >= 2*l.look {
		l.held[l.at] = 1
		return 1
	}
	l.calm++
	held, sum := 1.0, 0.0
	for _, g := range l.need {
		held = min(held, g)
	}
	l.held[l.at] = held
	for _, g := range l.held {
		sum += g
	}
	return sum / float64(l.look)
}

// reduction returns the least gain since the last call.
func (l *limiter) reduction() float64 {
	worst := l.worst
	l.worst = 1
	return worst
}
