package align

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
)

// track is the coarse line: position in the reference = start + slope·n.
type track struct {
	start, slope float64
	correlation  float64 // of the anchor
	rival        float64
}

// Bounds of the coarse search.
const (
	stretchSize  = 1 << 14
	anchors      = 7
	maxDrift     = 1e-3 // of the clock, that the search follows
	minimumMatch = 0.25 // normalised correlation
)

// ErrNotFound means that the capture does not hold the reference.
var ErrNotFound = errors.New("align: the reference was not found in the capture")

// anchor is a stretch of the capture found somewhere in the reference.
type anchor struct {
	match
	at int // first frame of the stretch in the capture
}

// clear reports whether the match leaves no doubt.
func (a anchor) clear() bool {
	return math.Abs(a.correlation) > 0.9 && a.rival < 0.8*math.Abs(a.correlation)
}

// locate returns the lines on which the capture may lie on the reference, the
// most likely first: each from one stretch found anywhere in the reference, and
// others outward from it.
func locate(reference, capture []float64) ([]track, error) {
	size := stretchSize
	for size > min(len(reference), len(capture))/2 {
		size /= 2
	}
	c := newCorrelator(reference, capture, size)
	found := c.anchors()
	if len(found) == 0 || math.Abs(found[0].correlation) < minimumMatch {
		best := 0.0
		if len(found) > 0 {
			best = math.Abs(found[0].correlation)
		}
		return nil, fmt.Errorf("%w: best correlation %.2f, want at least %.2f", ErrNotFound, best, minimumMatch)
	}
	var tracks []track
	for _, a := range found {
		if math.Abs(a.correlation) >= minimumMatch {
			tracks = append(tracks, c.follow(a))
		}
	}
	return tracks, nil
}

// anchors looks for stretches of the capture all over the reference: the loudest
// first, then evenly spread ones while no match leaves no doubt. It returns them
// by falling correlation.
func (c *correlator) anchors() []anchor {
	places := []int{loudest(c.capture, c.size)}
	for k := range anchors - 1 {
		places = append(places, k*(len(c.capture)-c.size)/(anchors-2))
	}
	var found []anchor
	for _, at := range places {
		m, ok := c.find(at, 0, len(c.reference))
		if !ok {
			continue
		}
		a := anchor{m, at}
		if a.clear() {
			return []anchor{a}
		}
		found = append(found, a)
	}
	slices.SortStableFunc(found, func(a, b anchor) int {
		return cmp.Compare(math.Abs(b.correlation), math.Abs(a.correlation))
	})
	return found
}

// follow matches stretches outward from an anchor, each near where the last one
// says, and lays a line through all that is robust against wrong matches.
func (c *correlator) follow(a anchor) track {
	at, offsets := []float64{float64(a.at)}, []float64{a.offset}
	step := max(c.size, len(c.capture)/40)
	for _, direction := range []int{-1, 1} {
		last, place := a.at, a.offset
		for n := a.at + direction*step; n >= 0 && n+c.size <= len(c.capture); n += direction * step {
			expected := place + float64(n-last)
			slack := 8 + int(maxDrift*math.Abs(float64(n-last)))
			m, ok := c.find(n, int(expected)-slack, int(expected)+slack)
			if ok && m.correlation*a.correlation > 0 && math.Abs(m.correlation) > minimumMatch {
				at, offsets = append(at, float64(n)), append(offsets, m.offset)
				last, place = n, m.offset
			}
		}
	}
	start, slope := robustLine(at, offsets)
	return track{start: start, slope: slope, correlation: a.correlation, rival: a.rival}
}

// loudest returns the start of the stretch of maximum energy.
func loudest(x []float64, size int) int {
	best, energy := 0, -1.0
	for from := 0; from+size <= len(x); from += size / 2 {
		sum := 0.0
		for _, v := range x[from : from+size] {
			sum += v * v
		}
		if sum > energy {
			best, energy = from, sum
		}
	}
	return best
}

// robustLine returns the line through points by the median of the slopes between
// pairs and the median of what remains (Theil and Sen), slope 1 for one point.
func robustLine(x, y []float64) (start, slope float64) {
	var slopes []float64
	for i := range x {
		for j := range i {
			slopes = append(slopes, (y[i]-y[j])/(x[i]-x[j]))
		}
	}
	slope = 1
	if len(slopes) > 0 {
		slope = median(slopes)
	}
	rest := make([]float64, len(x))
	for i := range x {
		rest[i] = y[i] - slope*x[i]
	}
	return median(rest), slope
}

func median(x []float64) float64 {
	slices.Sort(x)
	return (x[(len(x)-1)/2] + x[len(x)/2]) / 2
}
