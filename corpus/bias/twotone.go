package bias

import (
	"math"

	"quietcross/dsp/shape"
)

// TwoTone is intermodulation after IEC 60268-3, 14.12, of two tones whose peaks
// add up to a given peak: 4:1 for modulation, 1:1 for difference frequency.
type TwoTone struct {
	Modulation2 float64 `json:"modulation_2"`
	Modulation3 float64 `json:"modulation_3"`
	Difference2 float64 `json:"difference_2"`
	Difference3 float64 `json:"difference_3"`
}

// The frequencies of the tones, Hz: of modulation the lower one first, as IEC
// 60268-3 gives them for wide-band amplifiers, and of difference frequency. A
// circuit without memory answers alike at all.
const (
	ModulationLow  = 250
	ModulationHigh = 8000
	DifferenceLow  = 19000
	DifferenceHigh = 20000
)

// Shares of the peak.
const (
	modulationLowShare  = 0.8
	modulationHighShare = 0.2
	differenceShare     = 0.5
)

// lawTwoTone returns the intermodulation of a law.
func lawTwoTone(law *shape.Law, peak float64) TwoTone {
	a := products(law, modulationLowShare*peak, modulationHighShare*peak)
	b := products(law, differenceShare*peak, differenceShare*peak)
	sum := math.Abs(b[0][1]) + math.Abs(b[1][0])
	return TwoTone{
		Modulation2: math.Abs(a[1][1]) / math.Abs(a[0][1]),
		Modulation3: math.Abs(a[2][1]) / math.Abs(a[0][1]),
		Difference2: math.Abs(b[1][1]) / 2 / sum,
		Difference3: (math.Abs(b[1][2]) + math.Abs(b[2][1])) / 2 / sum,
	}
}

// angles is how many angles of each tone over half its cycle are taken.
const angles = 256

// products returns the coefficients c[m][n] of cos(mθ1)cos(nθ2), m and n to 2, of
// a law under a·cos θ1 + b·cos θ2. Half of c[m][n], m and n above 0, lies at each
// of m·f1 + n·f2 and |m·f1 - n·f2|.
func products(law *shape.Law, a, b float64) (c [3][3]float64) {
	for i := range angles {
		u := cosines[i]
		var row [3]float64
		for k := range angles {
			v := cosines[k]
			y := law.At(a*u + b*v)
			row[0] += y
			row[1] += y * v
			row[2] += y * (2*v*v - 1)
		}
		for n, y := range row {
			c[0][n] += y
			c[1][n] += y * u
			c[2][n] += y * (2*u*u - 1)
		}
	}
	for m := range c {
		for n := range c[m] {
			c[m][n] /= angles * angles
			if m > 0 {
				c[m][n] *= 2
			}
			if n > 0 {
				c[m][n] *= 2
			}
		}
	}
	return c
}

var cosines = func() (list [angles]float64) {
	for i := range list {
		list[i] = math.Cos(math.Pi * (float64(i) + 0.5) / angles)
	}
	return list
}()
