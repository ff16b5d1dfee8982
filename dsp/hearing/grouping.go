package hearing

import "math"

// minimumEnergy is the floor of a band's energy, BS.1387, 2.1.5.
const minimumEnergy = 1e-12

// share says which lines belong to a band: every line from first to last, the
// first counted with weight head and the last with weight tail.
type share struct {
	first, last int
	head, tail  float64
}

// grouping sums spectral lines into bands. A line is taken to fill the interval
// of half a line spacing on either side of its frequency, and a band takes the
// part of each line that lies between its edges (BS.1387, 2.1.5).
type grouping [bandCount]share

func newGrouping(bands *[bandCount]band) (g grouping) {
	for k, b := range bands {
		first := int(math.Round(b.low / lineSpacing))
		last := int(math.Round(b.high / lineSpacing))
		g[k] = share{first, last, overlap(b, first), overlap(b, last)}
	}
	return g
}

// overlap returns the part of line i, 0 to 1, that lies inside b.
func overlap(b band, i int) float64 {
	low := max(b.low, (float64(i)-0.5)*lineSpacing)
	high := min(b.high, (float64(i)+0.5)*lineSpacing)
	return max(0, high-low) / lineSpacing
}

// sum writes the energy of each band to dst from the power of the lines.
func (g *grouping) sum(dst *pattern, power *[lineCount]float64) {
	for k := range g {
		s := &g[k]
		energy := s.head * power[s.first]
		if s.last > s.first {
			for _, p := range power[s.first+1 : s.last] {
				energy += p
			}
			energy += s.tail * power[s.last]
		}
		dst[k] = max(energy, minimumEnergy)
	}
}
