package hearing

import "math"

// The auditory filters as a spreading of energy. Spectral lines are first laid onto
// cells a third of an ERB apart. Every filter is a rounded exponential,
// (1 + p g) exp(-p g) with g the relative distance from its centre. Its lower side,
// which lets in what lies below and so causes the upward spread of masking, widens with
// the level X of the cell: p = p51 - slope (p51/p51 at 1 kHz) h, p51 = 4 f/ERB and h =
// X - 51 (Glasberg and Moore 1990; Moore, Glasberg and Baer, JAES 45, 1997). Over 51 dB h
// is (X - 51)/(1 + (X - 51)/saturates), for the gain at the tip cannot be lost twice. The
// upper side is steeper than the formula by a factor and widens by a part of that: a tip
// that loses gain makes both sides shallower (Rosen, Baker and Darling, JASA 103, 1998;
// from memory). X is that of the reference alone, summed over one ERB: the programme sets
// the filters through which a change of it is heard, so that test and reference pass the
// same ones.
//
// A window of finite length widens a line already. The filters of a band are
// sharpened by as much, variances adding, so that the whole has the ERB of the ear.

// row holds the weights of one cell at one level in the bands from first on.
type row struct {
	first   int
	weights []float64
}

// filterTable holds rows indexed [cell][level], and the range of cells that reach any of
// its bands.
type filterTable struct {
	rows     [cellCount][levelRows]row
	from, to int
}

// newFilterTable returns the filters of bands from, to for a window of the given
// equivalent noise bandwidth, Hz.
func newFilterTable(c *constants, from, to int, windowWidth float64) *filterTable {
	t := new(filterTable)
	filters := make([]filter, to-from)
	for i := range filters {
		filters[i] = c.newFilter(bandFrequency(from+i), windowWidth)
	}
	t.from = cellCount
	for cell := range t.rows {
		f := cellFrequency(cell)
		for l := range t.rows[cell] {
			r := row{first: from, weights: make([]float64, to-from)}
			for i := range filters {
				r.weights[i] = filters[i].weight(f, levelStep*float64(l))
			}
			t.rows[cell][l] = r
		}
		t.alignRows(cell)
		if len(t.rows[cell][0].weights) > 0 {
			t.from, t.to = min(t.from, cell), cell+1
		}
	}
	return t
}

// filter is one auditory filter.
type filter struct {
	centre, upper, lower   float64 // Hz, p above and below at 51 dB
	upperPerDB, lowerPerDB float64 // less p for each dB
	saturates              float64 // dB over 51 at which half of that is lost
}

func (c *constants) newFilter(f, windowWidth float64) filter {
	p := 4 * f / erbWidth(f) * sharpened(f, windowWidth)
	perDB := c.slope * p / (4000 / erbWidth(1000))
	return filter{
		centre: f, upper: c.upper * p, lower: p,
		upperPerDB: c.upperSlope * perDB, lowerPerDB: perDB, saturates: c.saturates,
	}
}

// flattest bounds p from below, as a part of its value at 51 dB.
const flattest = 0.15

// weight returns what the filter lets through from a cell at frequency cell with
// level x, dB.
func (f *filter) weight(cell, x float64) float64 {
	g := math.Abs(f.centre-cell) / f.centre
	over := x - 51
	if over > 0 {
		over /= 1 + over/f.saturates
	}
	if cell > f.centre {
		return roex((f.upper - f.upperPerDB*over) * g)
	}
	return roex(max(flattest*f.lower, f.lower-f.lowerPerDB*over) * g)
}

// sharpened returns the factor on a filter's p that makes up for the window and the
// cells: the standard deviation of a rounded exponential is √6 f/p, that of a cell its
// width over √6, and that of a Hann window's power 0.4 of its noise bandwidth.
func sharpened(f, windowWidth float64) float64 {
	own := math.Sqrt(6) / 4 * erbWidth(f)
	other := math.Hypot(0.4*windowWidth, cellStep/math.Sqrt(6)*erbWidth(f))
	return 1 / math.Sqrt(max(0.4, 1-other*other/(own*own)))
}

// roex is the rounded exponential, 0 where it is negligible.
func roex(pg float64) float64 {
	if pg > 25 {
		return 0
	}
	return (1 + pg) * math.Exp(-pg)
}

// alignRows trims the rows of a cell to the bands in which any of them counts, the
// same for all levels, so that two can be interpolated.
func (t *filterTable) alignRows(cell int) {
	rows := &t.rows[cell]
	n := len(rows[0].weights)
	first, last := n, 0
	for l := range rows {
		for i, w := range rows[l].weights {
			if w > negligible {
				first, last = min(first, i), max(last, i+1)
			}
		}
	}
	if first >= last {
		first, last = 0, 0
	}
	for l := range rows {
		rows[l].weights = rows[l].weights[first:last]
		rows[l].first += first
	}
}

// slopes says for each cell between which rows of the table to interpolate, as a
// level in units of levelStep.
type slopes [cellCount]float32

// setSlopes finds them from the powers of the reference's cells.
func (t *filterTable) setSlopes(s *slopes, power *[cellCount]float64) {
	for c := t.from; c < t.to; c++ {
		// One ERB is three cells.
		sum := power[max(0, c-1)] + power[c] + power[min(cellCount-1, c+1)]
		x := 0.0
		if sum > 1 {
			x = min(10*math.Log10(sum)/levelStep, levelRows-1.001)
		}
		s[c] = float32(x)
	}
}

// least is the power of a cell, re 20 µPa, that is passed over: -40 dB SPL.
const least = 1e-4

// excite adds to dst, indexed by band, what the cells put into the bands of t.
func (t *filterTable) excite(dst *[bandCount]float64, s *slopes, power *[cellCount]float64) {
	for c := t.from; c < t.to; c++ {
		p := power[c]
		if p < least {
			continue
		}
		low := int(s[c])
		part := float64(s[c] - float32(low))
		a, b := &t.rows[c][low], &t.rows[c][low+1]
		out := dst[a.first : a.first+len(a.weights)]
		pb := p * part
		addRows(out, a.weights, b.weights, p-pb, pb)
	}
}

// addRows adds pa times the weights a and pb times the weights b to dst, all of one length.
func addRows(dst, a, b []float64, pa, pb float64) {
	n := rowsVector(dst, a, b, pa, pb)
	rowsPlain(dst[n:], a[n:], b[n:], pa, pb)
}

// rowsPlain is addRows in plain Go; vector instructions give the same bits.
func rowsPlain(dst, a, b []float64, pa, pb float64) {
	a, b = a[:len(dst)], b[:len(dst)]
	for i := range dst {
		dst[i] += float64(pa*a[i]) + float64(pb*b[i])
	}
}
