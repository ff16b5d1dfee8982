package hearing

import "math"

// The auditory filters as a spreading of energy. Spectral lines are first laid onto
// cells a third of an ERB apart. Every filter is a rounded exponential,
// (1 + p g) exp(-p g) with g the relative distance from its centre. Its upper side
// is fixed; its lower side, which lets in what lies below and so causes the upward
// spread of masking, widens with the level X of the cell: p = p51 - slope (p51/p51 at
// 1 kHz) (X - 51), p51 = 4 f/ERB (Glasberg and Moore 1990; Moore, Glasberg and Baer,
// JAES 45, 1997), and has a broad, weak tail. X is that of the reference alone,
// summed over one ERB: the programme sets the filters through which a change of it is
// heard, so that test and reference pass the same ones.
//
// A window of finite length widens a line already. The filters of a band are
// sharpened by as much, variances adding, so that the whole has the ERB of the ear.

// row holds the weights of one cell at one level in the bands from first on.
type row struct {
	first   int
	weights []float64
}

// filterTable holds rows indexed [cell][level].
type filterTable [cellCount][levelRows]row

// newFilterTable returns the filters of bands from, to for a window of the given
// equivalent noise bandwidth, Hz.
func newFilterTable(c *constants, from, to int, windowWidth float64) *filterTable {
	t := new(filterTable)
	for cell := range t {
		for l := range t[cell] {
			t[cell][l] = c.newRow(cellFrequency(cell), levelStep*float64(l), from, to, windowWidth)
		}
		t.alignRows(cell)
	}
	return t
}

// newRow computes one row, without trimming.
func (c *constants) newRow(cell, x float64, from, to int, windowWidth float64) row {
	r := row{first: from, weights: make([]float64, to-from)}
	for i := range r.weights {
		f := bandFrequency(from + i)
		r.weights[i] = c.weight(f, cell, x, sharpened(f, windowWidth))
	}
	return r
}

// sharpened returns the factor on a filter's p that makes up for the window and the
// cells.
func sharpened(f, windowWidth float64) float64 {
	width := erbWidth(f)
	other := math.Hypot(windowWidth, cellStep*width)
	return 1 / math.Sqrt(max(0.15, 1-other*other/(width*width)))
}

// weight returns what the filter centred at f lets through from a cell at frequency
// cell with level x, dB.
func (c *constants) weight(f, cell, x, sharp float64) float64 {
	p := 4 * f / erbWidth(f)
	g := math.Abs(f-cell) / f
	if cell > f {
		return roex(p * sharp * g)
	}
	p *= 1 - c.slope/(4000/erbWidth(1000))*(x-51)
	p = max(p, 4)
	return roex(p*sharp*g) + c.tail*roex(c.tailSlope*p*g)
}

func roex(pg float64) float64 { return (1 + pg) * math.Exp(-pg) }

// alignRows trims the rows of a cell to the bands in which any of them counts, the
// same for all levels, so that two can be interpolated.
func (t *filterTable) alignRows(cell int) {
	rows := &t[cell]
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
type slopes [cellCount]float64

// setSlopes finds them from the powers of the reference's cells.
func setSlopes(s *slopes, power *[cellCount]float64) {
	for c := range s {
		// One ERB is three cells.
		sum := power[max(0, c-1)] + power[c] + power[min(cellCount-1, c+1)]
		x := 0.0
		if sum > 1 {
			x = min(10*math.Log10(sum)/levelStep, levelRows-1.001)
		}
		s[c] = x
	}
}

// least is the power of a cell, re 20 µPa, that is passed over: -40 dB SPL.
const least = 1e-4

// excite adds to dst, indexed by band, what the cells put into the bands of t.
func (t *filterTable) excite(dst *[bandCount]float64, s *slopes, power *[cellCount]float64) {
	for c, p := range power {
		if p < least {
			continue
		}
		low := int(s[c])
		part := s[c] - float64(low)
		a, b := &t[c][low], &t[c][low+1]
		wa := a.weights
		wb := b.weights[:len(wa)]
		out := dst[a.first : a.first+len(wa)]
		pb := p * part
		pa := p - pb
		for i, w := range wa {
			out[i] += pa*w + pb*wb[i]
		}
	}
}
