package bias

import (
	"math"
	"math/cmplx"

	"quietcross/dsp/shape"

	"gonum.org/v1/gonum/dsp/fourier"
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
// 60268-3 gives them for wide-band amplifiers, and of difference frequency.
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

// The base of each pair of tones, Hz, and the tones as its multiples.
const (
	modulationBase  = ModulationLow
	modulationFirst = 1
	modulationOther = ModulationHigh / modulationBase
	differenceBase  = DifferenceHigh - DifferenceLow
	differenceFirst = DifferenceLow / differenceBase
	differenceOther = DifferenceHigh / differenceBase
)

// The lines that intermodulation is read from, as multiples of the base.
var (
	modulationLines = []int{
		modulationOther - 2*modulationFirst, modulationOther - modulationFirst, modulationOther,
		modulationOther + modulationFirst, modulationOther + 2*modulationFirst,
	}
	differenceLines = []int{
		differenceOther - differenceFirst, 2*differenceFirst - differenceOther, differenceFirst, differenceOther,
		2*differenceOther - differenceFirst,
	}
)

// modulation fills in what the sizes of the modulationLines tell.
func (t *TwoTone) modulation(a []float64) {
	t.Modulation2, t.Modulation3 = (a[1]+a[3])/a[2], (a[0]+a[4])/a[2]
}

// difference fills in what the sizes of the differenceLines tell.
func (t *TwoTone) difference(a []float64) {
	sum := a[2] + a[3]
	t.Difference2, t.Difference3 = a[0]/sum, (a[1]+a[4])/sum
}

// lawTwoTone returns the intermodulation of a law.
func lawTwoTone(law *shape.Law, peak float64) TwoTone {
	var t TwoTone
	t.modulation(twoToneSizes(law, modulationLines,
		partial{modulationFirst, modulationLowShare * peak}, partial{modulationOther, modulationHighShare * peak}))
	t.difference(twoToneSizes(law, differenceLines,
		partial{differenceFirst, differenceShare * peak}, partial{differenceOther, differenceShare * peak}))
	return t
}

// partial is a cosine at a multiple of the base.
type partial struct {
	order int
	peak  float64
}

// basePeriod is how many samples of a base period are taken: some 500 of a cycle of the
// faster tone.
const basePeriod = 1 << 14

// twoToneSizes returns the sizes of lines, V, of a law's output under two partials.
func twoToneSizes(law *shape.Law, lines []int, a, b partial) []float64 {
	wave := make([]float64, basePeriod)
	for i := range basePeriod/2 + 1 {
		phase := 2 * math.Pi * float64(i) / basePeriod
		wave[i] = law.At(a.peak*math.Cos(float64(a.order)*phase) + b.peak*math.Cos(float64(b.order)*phase))
		if i > 0 {
			wave[basePeriod-i] = wave[i] // the law's answer to cosines is even in time
		}
	}
	all := fourier.NewFFT(basePeriod).Coefficients(nil, wave)
	sizes := make([]float64, len(lines))
	for i, line := range lines {
		sizes[i] = 2 * cmplx.Abs(all[line]) / basePeriod
	}
	return sizes
}
