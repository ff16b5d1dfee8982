package align

import (
	"math"
	"sync"

	"quietcross/dsp/kaiser"
	"quietcross/dsp/spectrum"
)

// The interpolator: a sinc under a Blackman-Harris window, tabulated for 4096
// phases and interpolated between them. Its error is below -130 dB at low
// frequencies, -110 dB at 0.45 of the rate and -105 dB at 0.46, which its test
// measures; content above is attenuated.
const (
	reach  = 56 // samples to each side
	phases = 4096
)

// kernel returns the table: row p holds the taps for an offset of p/phases
// between two samples, tap k meeting the sample k-(reach-1) after the first.
var kernel = sync.OnceValue(func() [][2 * reach]float64 {
	table := make([][2 * reach]float64, phases+1)
	terms := spectrum.BlackmanHarris4.Terms()
	for p := range table {
		offset := float64(p) / phases
		for k := range 2 * reach {
			t := float64(k-(reach-1)) - offset
			window := 0.0
			for n, a := range terms {
				window += a * math.Cos(math.Pi*float64(n)*t/reach)
			}
			table[p][k] = kaiser.Sinc(t) * window
		}
	}
	return table
})

// at returns the value and slope (per sample) of x between its samples. The
// position must lie from reach to len(x)-reach-1.
func at(x []float64, position float64) (value, slope float64) {
	table := kernel()
	base := math.Floor(position)
	phase := (position - base) * phases
	row := int(phase)
	if row == phases { // rounding of a position just below a sample
		row--
	}
	first := int(base) - (reach - 1)
	window := x[first : first+2*reach]
	var low, high float64
	a, b := &table[row], &table[row+1]
	for k, v := range window {
		low += v * a[k]
		high += v * b[k]
	}
	return low + (high-low)*(phase-float64(row)), (high - low) * phases
}
