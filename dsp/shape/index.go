package shape

// index finds the cell of an x. Even buckets over the range are each divided
// into even slots about as wide as the smallest cell in the bucket; a slot names
// the cell at its start, from which the right one is a step or two away.
type index struct {
	lo, perX float64
	buckets  []bucket
	slots    []int32
}

type bucket struct {
	lo, perX float64
	first    int32 // into slots
	last     int32
}

const (
	bucketCount = 256
	maxSlots    = 256 // in a bucket
)

func newIndex(cells []cell) index {
	lo, hi := cells[1].start, cells[len(cells)-2].end
	ix := index{lo: lo, perX: bucketCount / (hi - lo)}
	width := (hi - lo) / bucketCount
	at := 1
	for b := range bucketCount {
		start := lo + float64(b)*width
		for at < len(cells)-2 && cells[at].end <= start {
			at++
		}
		ix.add(cells, at, start, width)
	}
	return ix
}

// add appends the bucket that begins at start, in cell at.
func (ix *index) add(cells []cell, at int, start, width float64) {
	least := width
	for i := at; i < len(cells)-1 && cells[i].start < start+width; i++ {
		least = min(least, cells[i].end-cells[i].start)
	}
	n := max(1, min(maxSlots, int(width/least+0.5)))
	first := int32(len(ix.slots))
	ix.buckets = append(ix.buckets, bucket{
		lo: start, perX: float64(n) / width, first: first, last: first + int32(n) - 1,
	})
	for s := range n {
		x := start + float64(s)*width/float64(n)
		for at < len(cells)-2 && cells[at].end <= x {
			at++
		}
		ix.slots = append(ix.slots, int32(at))
	}
}

// find returns the index of the cell that holds x; 0 for no number.
func (l *Law) find(x float64) int {
	if !(x >= l.lo) {
		return 0
	}
	if x >= l.hi {
		return len(l.cells) - 1
	}
	b := &l.index.buckets[min(int((x-l.index.lo)*l.index.perX), bucketCount-1)]
	s := b.first + int32((x-b.lo)*b.perX)
	i := int(l.index.slots[max(b.first, min(s, b.last))])
	for x >= l.cells[i].end {
		i++
	}
	for x < l.cells[i].start {
		i--
	}
	return i
}
