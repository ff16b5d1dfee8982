package distortion

import (
	"fmt"
	"math"
	"math/cmplx"

	"quietcross/dsp/level"
)

// MaxOrder is the highest harmonic that is fitted.
const MaxOrder = 20

// Harmonic is one harmonic of a tone.
type Harmonic struct {
	Order     int
	Frequency float64 // hertz
	// Value is the amplitude (peak, full scale 1) and phase at the instant of the
	// fundamental's positive crest: the signal is Σ Re(Value·e^(jnθ)) with the
	// fundamental at cos θ. A memoryless law leaves every harmonic real.
	Value complex128
	// Sigma is the standard uncertainty of the real and of the imaginary part.
	Sigma float64
}

// Amplitude returns the peak amplitude, full scale 1.
func (h Harmonic) Amplitude() float64 { return cmplx.Abs(h.Value) }

// Phase returns the phase in radians, -π to π, re the fundamental's crest.
func (h Harmonic) Phase() float64 { return cmplx.Phase(h.Value) }

// Resolved reports whether the harmonic stands clear of the noise.
func (h Harmonic) Resolved() bool { return h.Amplitude() > 3*h.Sigma }

// Tone is what a record of one tone holds.
type Tone struct {
	Rate           float64 // hertz
	Frequency      float64 // hertz
	FrequencySigma float64 // standard uncertainty, hertz
	Fundamental    Harmonic
	Phase          float64    // radians, of the fundamental as a cosine at the first sample
	Harmonics      []Harmonic // orders 2 to 20 that lie below half the rate
	DC             float64
	DCSigma        float64
	// Residual is the record less DC, fundamental and harmonics: noise and
	// whatever is no harmonic.
	Residual []float64
	// Warnings say what makes the figures less than they seem.
	Warnings []string

	noise *noise
	x     []float64
}

// Harmonics measures the strongest tone of x between 5 Hz and half the rate. Rate
// is in hertz (it panics unless above 0). It returns an error when the record is
// silent, shorter than 256 samples or 12 cycles, not finite, or holds no steady
// tone.
func Harmonics(x []float64, rate float64) (*Tone, error) {
	if err := checkSamples(x, rate); err != nil {
		return nil, err
	}
	hertz, err := strongest(x, rate, 5, rate/2)
	if err != nil {
		return nil, err
	}
	return HarmonicsNear(x, rate, hertz)
}

// HarmonicsNear is [Harmonics] for a tone known to lie within a line (the rate
// over the number of samples) of hertz.
func HarmonicsNear(x []float64, rate, hertz float64) (*Tone, error) {
	if err := checkSamples(x, rate); err != nil {
		return nil, err
	}
	omega := 2 * math.Pi * hertz / rate
	if cycles := hertz * float64(len(x)) / rate; !(cycles >= minCycles) || omega >= math.Pi {
		return nil, fmt.Errorf("distortion: %.3g cycles of %.6g Hz, want at least %d, below half the rate", cycles, hertz, minCycles)
	}
	s, err := harmonicMixture(omega, len(x)).solve(x)
	if err != nil {
		return nil, err
	}
	return newTone(x, rate, s)
}

// harmonicMixture has the fundamental and those harmonics that keep a main lobe
// clear of half the rate.
func harmonicMixture(omega float64, samples int) *mixture {
	m := &mixture{tones: []float64{omega}}
	margin := 2 * math.Pi * float64(fitWindow.HalfWidth()) / float64(samples)
	for n := 1; n <= MaxOrder && (n == 1 || float64(n)*omega < math.Pi-margin); n++ {
		m.orders = append(m.orders, []int{n})
	}
	return m
}

// surelyAbove is how many standard uncertainties a tone must stand out: the
// strongest line of noise alone reaches five or six.
const surelyAbove = 10

func newTone(x []float64, rate float64, s *solution) (*Tone, error) {
	amplitude := cmplx.Abs(s.c[0])
	omega := s.tones[0]
	t := &Tone{
		Rate: rate, Frequency: omega * rate / (2 * math.Pi), DC: s.dc,
		Residual: s.residual, x: x, noise: newNoise(s.residual, rate),
	}
	sigma, rest := t.noise.sigma(t.Frequency, s.record), level.RMS(s.residual)
	if !(amplitude > surelyAbove*sigma) || !(amplitude > rest/2) {
		return nil, fmt.Errorf("%w: the strongest line has amplitude %.3g, what is no harmonic of it %.3g RMS", errNotATone, amplitude, rest)
	}
	if amplitude < 2*rest {
		t.Warnings = append(t.Warnings, fmt.Sprintf("what is neither tone nor harmonic to order %d is %.0f %% of the tone", MaxOrder, 100*math.Sqrt2*rest/amplitude))
	}
	crest := s.c[0] / complex(amplitude, 0)
	turn := complex(1, 0)
	for k, c := range s.c {
		turn *= crest
		hertz := float64(k+1) * t.Frequency
		h := Harmonic{Order: k + 1, Frequency: hertz, Value: c * cmplx.Conj(turn), Sigma: t.noise.sigma(hertz, s.record)}
		if k == 0 {
			h.Value = complex(amplitude, 0)
			t.Fundamental = h
			continue
		}
		t.Harmonics = append(t.Harmonics, h)
	}
	t.DCSigma = t.noise.sigma(0, s.record) / math.Sqrt2
	t.FrequencySigma = t.noise.frequencySigma(t.Fundamental, s.record) * rate / (2 * math.Pi)
	t.Phase = math.Remainder(cmplx.Phase(s.c[0])+omega*s.record.time(0), 2*math.Pi)
	t.warn()
	return t, nil
}

func (t *Tone) warn() {
	if cycles := t.Frequency * float64(len(t.x)) / t.Rate; cycles < 100 {
		t.Warnings = append(t.Warnings, fmt.Sprintf("only %.0f cycles of the tone: amplitudes and frequency are less certain", cycles))
	}
	if n := len(t.Harmonics); n < MaxOrder-1 {
		t.Warnings = append(t.Warnings, fmt.Sprintf("harmonics above order %d lie beyond half the sample rate and are not in the figures", n+1))
	}
	if c := Clipping(t.x); c.Samples > 0 {
		t.Warnings = append(t.Warnings, c.String())
	}
}

// parts lists the harmonics, each weighted by weight(harmonic).
func (t *Tone) parts(weight func(Harmonic) float64) []part {
	parts := make([]part, len(t.Harmonics))
	for i, h := range t.Harmonics {
		parts[i] = part{h.Amplitude(), h.Sigma, weight(h)}
	}
	return parts
}

func unweighted(Harmonic) float64 { return 1 }

// THDF returns total harmonic distortion re the fundamental (IEC 60268-3, 14.12):
// the root sum of squares of the fitted harmonics over the fundamental.
func (t *Tone) THDF() Figure { return rootSum(t.parts(unweighted), t.Fundamental.Amplitude()) }

// THDR returns total harmonic distortion re the total, fundamental and harmonics
// (IEC 60268-3, 14.12).
func (t *Tone) THDR() Figure {
	f := t.THDF()
	// d(r/√(1+r²)) = dr/(1+r²)^(3/2).
	total := math.Sqrt(1 + f.Value*f.Value)
	f.Sigma /= total * total * total
	f.Value /= total
	f.Floor /= math.Sqrt(1 + f.Floor*f.Floor)
	return f
}

// OrderWeighted returns the harmonics re the fundamental with each amplitude
// weighted by n²/4 (D. E. L. Shorter, Electronic Engineering 22, 1950), which
// leaves the second as it is.
func (t *Tone) OrderWeighted() Figure {
	return rootSum(t.parts(func(h Harmonic) float64 { return OrderWeight(h.Order) }), t.Fundamental.Amplitude())
}

// OrderWeight returns Shorter's weight n²/4 of a harmonic's amplitude.
func OrderWeight(order int) float64 { return float64(order*order) / 4 }
