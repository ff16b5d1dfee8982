// Package sweep measures a stage's law directly, in double precision, without
// rendering a file: distortion against level, bias and what else a designer
// varies.
package sweep

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"

	"quietcross/dsp/distortion"
	"quietcross/dsp/weighting"
)

// A Law is a memoryless law, volts to volts. [*shape.Law] is one.
type Law interface{ At(x float64) float64 }

// points is the number of samples of a cycle. A corner as sharp as kT/q on a
// swing of tens of volts is several samples wide, so that what folds back lies
// far below the harmonics that are read.
const points = 1 << 14

// A Meter computes what a law makes of a steady tone. It is for one goroutine.
type Meter struct {
	fft   *fourier.FFT
	cycle []float64
	lines []complex128
}

// NewMeter returns a meter.
func NewMeter() *Meter {
	return &Meter{fft: fourier.NewFFT(points), cycle: make([]float64, points)}
}

// Tone is what a law makes of a cosine.
type Tone struct {
	// DC is the mean of the output, V.
	DC float64
	// Amplitudes are those of orders 1 to [distortion.MaxOrder], V peak; a
	// negative one has the sign turned at the input's positive crest.
	Amplitudes [distortion.MaxOrder]float64
}

// Tone returns what the law makes of a cosine of that peak, V: its Fourier
// coefficients, by the trapezoidal rule over a cycle. A memoryless law leaves
// them real.
func (m *Meter) Tone(law Law, peak float64) Tone {
	for i := range points/2 + 1 {
		v := law.At(peak * math.Cos(2*math.Pi*float64(i)/points))
		m.cycle[i], m.cycle[(points-i)%points] = v, v
	}
	m.lines = m.fft.Coefficients(m.lines, m.cycle)
	t := Tone{DC: real(m.lines[0]) / points}
	for n := range t.Amplitudes {
		t.Amplitudes[n] = 2 * real(m.lines[n+1]) / points
	}
	return t
}

// THD returns total harmonic distortion re the fundamental (IEC 60268-3, 14.12),
// a ratio of amplitudes; +Inf when no fundamental passes.
func (t Tone) THD() float64 { return t.weighted(func(int) float64 { return 1 }) }

// WeightedTHD returns the same with each harmonic through the network of ITU-R
// BS.468-4 (IEC 60268-3, 14.12), for a fundamental in hertz; the standard
// defines it for 31.5 to 400 Hz.
func (t Tone) WeightedTHD(fundamental float64) float64 {
	return t.weighted(func(order int) float64 {
		return weighting.Response468(float64(order) * fundamental)
	})
}

// OrderWeighted returns the same with each harmonic weighted by n²/4 (Shorter,
// Electronic Engineering 22, 1950).
func (t Tone) OrderWeighted() float64 { return t.weighted(distortion.OrderWeight) }

func (t Tone) weighted(weight func(order int) float64) float64 {
	sum := 0.0
	for n := 2; n <= distortion.MaxOrder; n++ {
		a := weight(n) * t.Amplitudes[n-1]
		sum += a * a
	}
	return math.Sqrt(sum) / math.Abs(t.Amplitudes[0])
}

