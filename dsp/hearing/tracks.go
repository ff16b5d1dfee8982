package hearing

import (
	"cmp"
	"math"
	"slices"
)

// A product seen again within gapFrames, and within driftHertz or driftPart of
// its frequency, is the same product. These three are this project's choice.
const (
	gapFrames  = 4
	driftHertz = 1.5 * lineSpacing
	driftPart  = 0.02
)

// track is a product that may still be going on.
type track struct {
	product Product
	at      float64 // frequency where it was last seen
	last    int     // frame where it was last seen
}

// tracker joins the peaks of successive frames of one channel.
type tracker struct {
	open     []track
	finished []Product
}

// see notes a peak of frame n if it stands above both thresholds.
func (t *tracker) see(n int, p Product) {
	if !(p.OverThreshold > 0 && p.OverMask > 0) {
		return
	}
	p.Start, p.End = hopTime*float64(n), hopTime*float64(n+2)
	i := t.find(n, p.Frequency)
	if i < 0 {
		t.open = append(t.open, track{p, p.Frequency, n})
		return
	}
	known := &t.open[i]
	known.at, known.last = p.Frequency, n
	p.Start = known.product.Start
	if p.OverMask > known.product.OverMask {
		known.product = p
	}
	known.product.End = p.End
}

// find returns the open track nearest to f that frame n has not used, or -1.
func (t *tracker) find(n int, f float64) int {
	best, minimum := -1, max(driftHertz, driftPart*f)
	for i, k := range t.open {
		if d := math.Abs(k.at - f); k.last < n && d < minimum {
			best, minimum = i, d
		}
	}
	return best
}

// ended takes out the tracks that frame n is too late for. The result is valid
// until the next call.
func (t *tracker) ended(n int) []Product {
	t.finished = t.finished[:0]
	t.open = slices.DeleteFunc(t.open, func(k track) bool {
		over := n-k.last >= gapFrames
		if over {
			t.finished = append(t.finished, k.product)
		}
		return over
	})
	slices.SortFunc(t.finished, func(a, b Product) int { return cmp.Compare(a.Frequency, b.Frequency) })
	return t.finished
}
