package hearing

import (
	"math"

	"quietcross/dsp/level"
)

// nearest is the number of lines on either side over which a peak must be the
// largest; the main lobe of a Hann window is four lines wide.
const nearest = 3

// lobe is the energy of the main lobe of a tone over the square of its largest
// line where that is minimum, half-way between lines: 1.5/(8/(3π))².
var lobe = 1.5 / math.Pow(8/(3*math.Pi), 2)

// isPeak reports whether line i is the largest of its neighbourhood. Of equals
// the first counts, and nothing is not a peak.
func isPeak(lines *[lineCount]float64, i int) bool {
	for d := 1; d <= nearest; d++ {
		if lines[i-d] >= lines[i] || lines[i+d] > lines[i] {
			return false
		}
	}
	return true
}

// product describes the tone at peak i: its frequency, its level from the energy
// of the main lobe, and how far it stands over the threshold in quiet and over
// the mask of the programme in the band it falls in.
func (m *model) product(lines *[lineCount]float64, i int, programme *sensation) Product {
	energy := sumOfSquares(lines[i-2 : i+3])
	f := (float64(i) + offset(lines[i-1], lines[i], lines[i+1])) * lineSpacing
	p := Product{Frequency: f, Level: level.FromPower(energy / lobe)}
	p.OverThreshold = p.Level - AbsoluteThreshold(f)
	k := bandAt(f)
	p.OverMask = level.FromPower(energy * m.outer[i] / (programme.excitation[k] * m.mask[k]))
	return p
}

// offset returns where between lines a tone lies under a Hann window, -0.5 to
// 0.5 lines from the largest, from it and its neighbours:
// (2a - 1)/(a + 1), a the larger neighbour over the largest.
func offset(below, largest, above float64) float64 {
	a := max(below, above) / largest
	d := (2*a - 1) / (a + 1)
	if below > above {
		return -d
	}
	return d
}

// bandAt returns the band that holds f, or the nearest one.
func bandAt(f float64) int {
	k := int((bark(f) - bark(bandLow)) / bandWidth)
	return max(0, min(bandCount-1, k))
}
