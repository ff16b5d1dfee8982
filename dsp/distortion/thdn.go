package distortion

import (
	"fmt"
	"math"
	"math/bits"

	"quietcross/dsp/spectrum"
	"quietcross/dsp/weighting"
)

// Band limits of AES17 measurements, hertz.
const (
	BandLow  = 20
	BandHigh = 20000
)

// Limits of the standard notch filter's Q (AES17-2015, 5.2.8).
const (
	MinNotchQ = 1.2
	MaxNotchQ = 3
)

// bandHigh returns the upper band limit at a sample rate.
func bandHigh(rate float64) float64 { return min(BandHigh, rate/2) }

// THDN returns total harmonic distortion and noise, 20 Hz to 20 kHz, re the total
// in that band (AES17-2015, 6.3), with the fundamental taken out by the fit: what
// a notch of no width would read. DC does not count.
func (t *Tone) THDN() Figure {
	rest := t.distortionPower() + t.NoisePower()
	total := rest + t.Fundamental.Amplitude()*t.Fundamental.Amplitude()/2
	f := Figure{Value: math.Sqrt(rest / total)}
	if rest > 0 {
		// A noise power over bandwidth B and time T has 2BT independent values.
		seconds := float64(len(t.x)) / t.Rate
		spread := t.NoisePower() / math.Sqrt((bandHigh(t.Rate)-BandLow)*seconds)
		thd := t.THDF()
		spread = math.Hypot(spread, thd.Value*thd.Sigma*t.Fundamental.Amplitude()*t.Fundamental.Amplitude())
		f.Sigma = f.Value * spread / (2 * rest)
	}
	return f
}

// distortionPower returns the mean square of the harmonics in band.
func (t *Tone) distortionPower() float64 {
	sum := 0.0
	for _, h := range t.Harmonics {
		if h.Frequency >= BandLow && h.Frequency <= BandHigh {
			sum += square(h.Value) / 2
		}
	}
	return sum
}

// NoisePower returns the mean square, 20 Hz to 20 kHz, of what is neither
// fundamental, fitted harmonic nor DC.
func (t *Tone) NoisePower() float64 { return t.noise.spectrum.MeanSquare(BandLow, BandHigh) }

// Noise returns the RMS, 20 Hz to 20 kHz, of what is neither fundamental, fitted
// harmonic nor DC. A full-scale sine has 0.7071.
func (t *Tone) Noise() float64 { return math.Sqrt(t.NoisePower()) }

// NoiseA is [Tone.Noise] with A weighting (IEC 61672-1).
func (t *Tone) NoiseA() float64 {
	return math.Sqrt(t.noise.spectrum.WeightedMeanSquare(BandLow, BandHigh, weighting.ResponseA))
}

// Noise468 returns the highest quasi-peak reading of the 468-weighted residual
// (ITU-R BS.468-4), calibrated to the RMS of a 1 kHz sine. The detector needs a
// second or two to settle: on shorter records the reading is low. The rate must
// be one of [weighting.Noise468].
func (t *Tone) Noise468() float64 {
	filtered := make([]float64, len(t.Residual))
	weighting.Noise468(t.Rate).Process(filtered, t.Residual)
	q := weighting.NewQuasiPeak(t.Rate)
	q.Add(filtered)
	return q.Highest()
}

// WeightedTHD returns the harmonics, each weighted by the 468 network at its
// frequency, re the fundamental (IEC 60268-3, 14.12.6, where the fundamental is
// 31.5 to 400 Hz so that the weighting leaves the low orders out).
func (t *Tone) WeightedTHD() Figure {
	return rootSum(t.parts(func(h Harmonic) float64 { return weighting.Response468(h.Frequency) }), t.Fundamental.Amplitude())
}

// NotchTHDN returns total harmonic distortion and noise, 20 Hz to 20 kHz, re the
// total in that band, as AES17-2015 measures it: through a notch of quality q,
// 1.2 to 3, at the tone's frequency in hertz (see [Harmonics]). The notch takes a
// part of the noise near the tone and of the low harmonics with it: at q = 3 the
// second harmonic is 0.2 dB low, at 1.2 it is 1.2 dB low. It returns an error
// for a q outside, and when the record is too short for the notch to settle.
func NotchTHDN(x []float64, rate, hertz, q float64) (Figure, error) {
	if err := checkSamples(x, rate); err != nil {
		return Figure{}, err
	}
	if !(q >= MinNotchQ && q <= MaxNotchQ) {
		return Figure{}, fmt.Errorf("distortion: notch Q %g, legal is %g to %d", q, MinNotchQ, MaxNotchQ)
	}
	if !(hertz > 0 && hertz < rate/2) {
		return Figure{}, fmt.Errorf("distortion: notch at %g Hz, legal is above 0 and below %g", hertz, rate/2)
	}
	// The notch rings as e^(-π·hertz·t/q); 28 time constants are -243 dB.
	settle := int(28 * q * rate / (math.Pi * hertz))
	if len(x)-settle < minSamples {
		return Figure{}, fmt.Errorf("distortion: %d samples, the notch at %.4g Hz needs %d to settle", len(x), hertz, settle+minSamples)
	}
	rest := bandPower(notch(x, 2*math.Pi*hertz/rate, q)[settle:], rate)
	return Figure{Value: math.Sqrt(rest / bandPower(x[settle:], rate))}, nil
}

// notch returns x less its mean through a second-order notch at omega.
func notch(x []float64, omega, q float64) []float64 {
	alpha := math.Sin(omega) / (2 * q)
	b, b1 := 1/(1+alpha), -2*math.Cos(omega)/(1+alpha)
	a2 := (1 - alpha) / (1 + alpha)
	mean := 0.0
	for _, v := range x {
		mean += v / float64(len(x))
	}
	y := make([]float64, len(x))
	var s0, s1 float64
	for i, v := range x {
		v -= mean
		y[i] = s0 + b*v
		s0 = s1 + b1*(v-y[i])
		s1 = b*v - a2*y[i]
	}
	return y
}

// bandPower returns the mean square of x in the band of AES17.
func bandPower(x []float64, rate float64) float64 {
	size := min(1<<(bits.Len(uint(len(x)))-2), 1<<16)
	a := spectrum.NewAverage(rate, size, spectrum.BlackmanHarris7)
	a.Add(x)
	s, _ := a.Spectrum() // size is below the number of samples
	return s.MeanSquare(BandLow, BandHigh)
}
