package bias

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"

	"quietcross/dsp/level"
	"quietcross/dsp/shape"
	"quietcross/stage"
)

// Some intermodulation shows only in time: where the amplifier in a loop cannot follow the
// edges of a loud low tone, a soft high tone that rides on them is lost for as long. The
// method is a square of 3.18 kHz with a sine of 15 kHz a quarter as high (E. Leinonen, M.
// Otala and J. Curl, J. Audio Eng. Soc. 25(4):170, 1977, from memory), which IEC 60268-3,
// 14.12, rounds to 3.15 kHz, and the difference of 19 and 20 kHz. Both are solved for as
// periodic states, the square as its odd harmonics to 100 kHz behind its one-pole corner.

// The square and the sine, Hz, and their base.
const (
	squareHertz   = 3150
	squareCorner  = 30e3
	squareSine    = 15000
	squareBase    = 150
	squareHighest = 100e3
	squareRatio   = 4 // square to sine, in height
)

// squareProducts are the nine products that the standard counts, as multiples of the base.
var squareProducts = []int{5, 16, 26, 37, 47, 58, 68, 79, 89}

// differenceProducts are those of 19 and 20 kHz in the band, as multiples of 1 kHz: the
// difference and its multiples, and the third and fifth orders beside the tones.
var differenceProducts = []int{1, 2, 17, 18}

// A Product is a line that the input does not hold.
type Product struct {
	Frequency float64  `json:"frequency_hz"`
	Level     level.DB `json:"level_db"` // re the sine, or re one of the two tones
}

// Transient is the intermodulation that shows in time.
type Transient struct {
	// Square are the nine products of the square and the 15 kHz sine, and SquareTotal
	// their root sum of squares, re the sine.
	Square      []Product `json:"square_products"`
	SquareTotal level.DB  `json:"square_total_db"`
	// Difference are those of 19 and 20 kHz, and DifferenceTotal their root sum of
	// squares, re one tone.
	Difference      []Product `json:"difference_products"`
	DifferenceTotal level.DB  `json:"difference_total_db"`
}

// noProduct is the level that is told of a product under it, dB.
const noProduct = -200

// Transient returns the intermodulation of both signals at peak volts at the input. The
// square and its sine together reach no further than that with any of its harmonics cut
// off, as in the program's test signal.
func (e *Evaluation) Transient(peak float64) (Transient, error) {
	var t Transient
	square, err := e.linesOf(squareBase, squareTones(peak), append([]int{squareSine / squareBase}, squareProducts...))
	if err != nil {
		return t, err
	}
	t.Square, t.SquareTotal = products(square, squareBase, squareProducts)
	tones := []stage.Tone{{Order: differenceFirst, Peak: differenceShare * peak}, {Order: differenceOther, Peak: differenceShare * peak}}
	difference, err := e.linesOf(differenceBase, tones, append([]int{differenceFirst}, differenceProducts...))
	if err != nil {
		return t, err
	}
	t.Difference, t.DifferenceTotal = products(difference, differenceBase, differenceProducts)
	return t, nil
}

// squareTones are the square and its sine, the square's fundamental first.
func squareTones(peak float64) []stage.Tone {
	height := peak / (4/math.Pi + 1.0/squareRatio)
	var tones []stage.Tone
	for n := 1; n*squareHertz < squareHighest; n += 2 {
		u := float64(n*squareHertz) / squareCorner
		tones = append(tones, stage.Tone{
			Order: n * squareHertz / squareBase, Peak: height * 4 / (math.Pi * float64(n)) / math.Hypot(1, u),
			Phase: -math.Pi/2 - math.Atan(u),
		})
	}
	return append(tones, stage.Tone{Order: squareSine / squareBase, Peak: height / squareRatio, Phase: -math.Pi / 2})
}

// products reads the levels of lines re the first.
func products(sizes []float64, base float64, orders []int) (list []Product, total level.DB) {
	sum := 0.0
	for i, order := range orders {
		ratio := 0.0
		if sizes[0] > 0 { // a stage that gives no sine gives none of its products
			ratio = sizes[i+1] / sizes[0]
		}
		sum += ratio * ratio
		list = append(list, Product{float64(order) * base, max(noProduct, level.FromAmplitude(ratio))})
	}
	return list, max(noProduct, level.FromAmplitude(math.Sqrt(sum)))
}

// linesOf returns the sizes of lines of the output under tones, V.
func (e *Evaluation) linesOf(base float64, tones []stage.Tone, orders []int) ([]float64, error) {
	if e.ladder.stage.HasMemory() {
		var list []float64
		err := e.steady.solve(e.biased, base, func(s *stage.Steady) {
			for _, order := range orders { // in any order, as they come
				list = append(list, cmplx.Abs(s.Lines(order)[0]))
			}
		}, tones...)
		return list, err
	}
	peak := 0.0
	for _, t := range tones {
		peak += t.Peak
	}
	law, err := e.figures(peak)
	if err != nil {
		return nil, err
	}
	return lawSizes(law, tones, orders), nil
}

// transientSamples are taken of a base period: some 600 of a cycle of the 15 kHz sine.
const transientSamples = 1 << 16

// lawSizes returns the sizes of lines of a law's output under tones, V.
func lawSizes(law *shape.Law, tones []stage.Tone, orders []int) []float64 {
	spectrum := make([]complex128, transientSamples/2+1)
	for _, t := range tones {
		spectrum[t.Order] = cmplx.Rect(t.Peak/2, t.Phase)
	}
	fft := fourier.NewFFT(transientSamples)
	wave := fft.Sequence(nil, spectrum)
	for i, v := range wave {
		wave[i] = law.At(v)
	}
	all := fft.Coefficients(nil, wave)
	sizes := make([]float64, len(orders))
	for i, order := range orders {
		sizes[i] = 2 * cmplx.Abs(all[order]) / transientSamples
	}
	return sizes
}
