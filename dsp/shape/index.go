package shape

import "math"

const (
	buckets  = 64      // in the range of a law, even
	maxSlots = 1 << 14 // in a bucket
)

// index finds the cell of an x without a search. The range is divided into even
// buckets and each bucket into even slots as wide as its smallest cell. As the
// cells are binary fractions of the range, no slot has parts of two cells.
type index struct {
	lo, perX float64
	buckets  [buckets]bucket
	cells    []uint16 // the cell of each slot
	last     int
}

type bucket struct {
	start float64
	perX  float64 // slots per unit of x
	first int     // slot
}

// newIndex makes the index of cells, the first and last of which lie beyond the
// range from lo to hi.
func newIndex(lo, hi float64, cells []cell) index {
	last := len(cells) - 1
	width := (hi - lo) / buckets
	ix := index{lo: lo, perX: 1 / width, last: last}
	at := 1
	for b := range ix.buckets {
		start := lo + float64(b)*width
		finest := width
		for i := at; i < last && cells[i].middle < start+width; i++ {
			finest = min(finest, 2*cells[i].half)
		}
		n := int(math.Round(width / finest))
		ix.buckets[b] = bucket{start: start, perX: float64(n) / width, first: len(ix.cells)}
		for s := range n {
			for middle := start + (float64(s)+0.5)*width/float64(n); cells[at].end() < middle; {
				at++
			}
			ix.cells = append(ix.cells, uint16(at))
		}
		if at+1 < last && cells[at].end() < start+width+finest/4 {
			at++
		}
	}
	ix.cells = append(ix.cells, uint16(last)) // for rounding at the end
	return ix
}

// find returns the cell for x; the first for no number. Within rounding of a knot
// it may be the one on the other side, whose quintic has the same value there.
func (ix *index) find(x float64) int {
	t := (x - ix.lo) * ix.perX
	if t >= 0 && t < buckets {
		b := &ix.buckets[int(t)]
		return int(ix.cells[b.first+int((x-b.start)*b.perX)])
	}
	if t >= buckets {
		return ix.last
	}
	return 0
}
