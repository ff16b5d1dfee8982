package hearing

import (
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// Stimuli of the published experiments and the search for the model's threshold.

const (
	testRate = 48000.0
	testSPL  = 100.0 // dB SPL of a full-scale sine
)

// amplitude returns the peak of a sine of l dB SPL.
func amplitude(l float64) float64 { return math.Pow(10, (l-testSPL)/20) }

// gate returns n samples of an envelope that is 1 from a to b, s, with ramps of the
// given length within, s.
func gate(rate, seconds, a, b, ramp float64) []float64 {
	env := make([]float64, int(math.Round(seconds*rate)))
	for i := range env {
		t := float64(i) / rate
		x := min((t-a)/ramp, (b-t)/ramp, 1)
		if x > 0 {
			s := math.Sin(math.Pi / 2 * x)
			env[i] = s * s
		}
	}
	return env
}

// sine writes a sine of f Hz and l dB SPL times env.
func sine(rate float64, env []float64, f, l, phase float64) []float64 {
	x := make([]float64, len(env))
	a := amplitude(l)
	for i, e := range env {
		if e != 0 {
			x[i] = a * e * math.Sin(2*math.Pi*f*float64(i)/rate+phase)
		}
	}
	return x
}

// bandNoise writes Gaussian noise between low and high Hz, of spectrum level n0
// dB/Hz, times env: sines 1 Hz apart divided by the duration, of random phase and
// Rayleigh amplitude.
func bandNoise(rate float64, env []float64, low, high, n0 float64, seed uint64) []float64 {
	random := rand.New(rand.NewPCG(seed, 1))
	n := 1
	for n < len(env) {
		n *= 2
	}
	spacing := rate / float64(n)
	spectrum := make([]complex128, n)
	for k := range n / 2 {
		f := float64(k) * spacing
		if f < low || f > high {
			continue
		}
		// Mean square of a line is spacing times the density.
		a := amplitude(n0+10*math.Log10(spacing)) / math.Sqrt2
		spectrum[k] = complex(a*random.NormFloat64(), a*random.NormFloat64())
	}
	x := inverseReal(spectrum)
	for i := range env {
		x[i] *= env[i]
	}
	return x[:len(env)]
}

func sum(x, y []float64, gain float64) []float64 {
	z := make([]float64, len(x))
	for i := range x {
		z[i] = x[i] + gain*y[i]
	}
	return z
}

// predictor hears a reference and returns a function that gives d' of a test.
type predictor func(rate float64, ref []float64) func(test []float64) float64

// model is the package's own predictor with the constants given.
func model(k constants) predictor { return inRoom(k, 0) }

// inRoom is the same in a room of a noise rating.
func inRoom(k constants, nr float64) predictor {
	return func(rate float64, ref []float64) func(test []float64) float64 {
		r := referenceOf(k, Config{Rate: rate, Channels: 1, PlaybackSPL: testSPL, RoomNR: nr}, [][]float64{ref})
		return func(test []float64) float64 { return r.Compare([][]float64{test}).DPrime }
	}
}

// threshold returns the gain in dB of probe at which d' of ref + probe against ref
// is 1.
func threshold(t testing.TB, p predictor, rate float64, ref, probe []float64) float64 {
	t.Helper()
	heard := p(rate, ref)
	d := func(gain float64) float64 { return heard(sum(ref, probe, math.Pow(10, gain/20))) }
	lo, hi := math.Inf(-1), math.Inf(1)
	x := 40.0
	for range 40 {
		v := d(x)
		if math.Abs(math.Log10(v)) < 0.005 {
			return x
		}
		if v < 1 {
			lo = x
		} else {
			hi = x
		}
		step := -10 * math.Log10(max(v, 1e-3))
		next := x + max(-30, min(30, step))
		if next <= lo || next >= hi {
			next = (lo + hi) / 2
		}
		if hi-lo < 0.02 {
			return (lo + hi) / 2
		}
		x = next
	}
	return x
}

// inverseReal returns the sum of the lines of a spectrum as cosines and sines.
func inverseReal(spectrum []complex128) []float64 {
	n := len(spectrum)
	fft := fourier.NewCmplxFFT(n)
	y := fft.Sequence(nil, spectrum)
	x := make([]float64, n)
	for i, v := range y {
		x[i] = real(v)
	}
	return x
}

func db(x float64) float64 { return 10 * math.Log10(x) }

// dbl returns the level difference that adding g dB of a tone to itself in phase
// makes.
func dbl(g float64) float64 { return 20 * math.Log10(1+math.Pow(10, g/20)) }
