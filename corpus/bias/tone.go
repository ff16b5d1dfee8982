package bias

import (
	"math"
	"math/cmplx"

	"gonum.org/v1/gonum/dsp/fourier"

	"quietcross/dsp/distortion"
	"quietcross/dsp/shape"
	"quietcross/dsp/weighting"
)

// BandHigh is the upper end of the band of measurement, Hz.
const BandHigh = distortion.BandHigh

// Tone is what a stage makes of one steady tone.
type Tone struct {
	Frequency float64 `json:"frequency_hz"`
	Input     float64 `json:"in_v"`  // peak
	Output    float64 `json:"out_v"` // peak of the fundamental
	Offset    float64 `json:"dc_v"`  // mean of the output
	// THD is of all orders that were solved for, re the fundamental (IEC 60268-3,
	// 14.12).
	THD float64 `json:"thd"`
	// InBand is THD re the total with the harmonics above 20 kHz left out: THD+N as
	// AES17 measures it, without noise.
	InBand float64 `json:"thd_n"`
	// Harmonics are the orders 2 to 20 re the fundamental, signed by what they are at
	// the positive crest of the fundamental.
	Harmonics []float64 `json:"harmonics"`
	// OrderWeighted is of the orders to 20 weighted by n²/4 (Shorter 1950).
	OrderWeighted float64 `json:"order_weighted"`
}

// WeightedTHD returns the harmonics to order 20 through the network of ITU-R
// BS.468-4, re the fundamental (IEC 60268-3, 14.12, which defines it for 31.5 to
// 400 Hz).
func (t *Tone) WeightedTHD() float64 {
	sum := 0.0
	for i, h := range t.Harmonics {
		weighted := h * weighting.Response468(float64(i+2)*t.Frequency)
		sum += weighted * weighted
	}
	return math.Sqrt(sum)
}

// newTone takes the figures from the output's lines at multiples of the tone's
// frequency, each the complex amplitude of a cosine, with the mean first.
func newTone(hertz, peak float64, lines []complex128) Tone {
	t := Tone{Frequency: hertz, Input: peak, Offset: real(lines[0]), Output: cmplx.Abs(lines[1])}
	turn := lines[1] / complex(t.Output, 0)
	phase := complex(1, 0)
	all, inBand, weighted := 0.0, 0.0, 0.0
	for n := 2; n < len(lines) || n <= distortion.MaxOrder; n++ {
		phase = cmplx.Pow(turn, complex(float64(n), 0))
		var h complex128
		if n < len(lines) {
			h = lines[n] / complex(t.Output, 0) / phase
		}
		power := real(h)*real(h) + imag(h)*imag(h)
		all += power
		if n <= distortion.MaxOrder {
			t.Harmonics = append(t.Harmonics, math.Copysign(math.Sqrt(power), real(h)))
			weighted += power * distortion.OrderWeight(n) * distortion.OrderWeight(n)
		}
		if float64(n)*hertz <= BandHigh {
			inBand += power
		}
	}
	t.THD, t.OrderWeighted, t.InBand = math.Sqrt(all), math.Sqrt(weighted), math.Sqrt(inBand/(1+inBand))
	return t
}

// cycle is how many samples of a cycle a law is taken at: orders beyond half of
// it fold back.
const cycle = 1 << 13

// lawLines returns the lines of a law's output under a cosine of peak volts.
func lawLines(law *shape.Law, peak float64) []complex128 {
	wave := make([]float64, cycle)
	for i := range cycle/2 + 1 {
		wave[i] = law.At(peak * math.Cos(2*math.Pi*float64(i)/cycle))
		if i > 0 {
			wave[cycle-i] = wave[i] // the law's answer to a cosine is even in time
		}
	}
	lines := fourier.NewFFT(cycle).Coefficients(nil, wave)
	for n := range lines {
		lines[n] = complex(real(lines[n])*2/cycle, 0)
	}
	lines[0] /= 2
	return lines[:cycle/2]
}

// LawTone returns what a law makes of a tone of hertz and of peak volts.
func LawTone(law *shape.Law, hertz, peak float64) Tone {
	return newTone(hertz, peak, lawLines(law, peak))
}
