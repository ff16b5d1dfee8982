package sweep

import (
	"math"
	"testing"
)

type law func(x float64) float64

func (f law) At(x float64) float64 { return f(x) }

// TestClosedForms holds the coefficients to closed forms.
func TestClosedForms(t *testing.T) {
	m := NewMeter()
	near := func(what string, got, want, tolerance float64) {
		t.Helper()
		if math.Abs(got-want) > tolerance {
			t.Errorf("%s: %.12g, want %.12g", what, got, want)
		}
	}
	// Half-wave sine: DC 1/π, b1 1/2, b2 2/(3π), b4 -2/(15π) for a cosine.
	half := m.Tone(law(func(x float64) float64 { return max(x, 0) }), 1)
	near("half wave, DC", half.DC, 0.3183098862, 1e-8)
	near("half wave, 1", half.Amplitudes[0], 0.5, 1e-8)
	near("half wave, 2", half.Amplitudes[1], 0.2122065908, 1e-8)
	near("half wave, 4", half.Amplitudes[3], -0.0424413182, 1e-8)
	// Exponential law e^(x cos t): order n re 1 is In(x)/I1(x), here at x = 1.
	exponential := m.Tone(law(math.Exp), 1)
	near("exponential, 2 re 1", exponential.Amplitudes[1]/exponential.Amplitudes[0], 0.2401937239, 1e-10)
	near("exponential, 5 re 1", exponential.Amplitudes[4]/exponential.Amplitudes[0], 0.0004803305, 1e-10)
	// tanh at amplitude 1: third re first 0.06683187795 (of a sine; of a cosine
	// the third has the other sign).
	soft := m.Tone(law(math.Tanh), 1)
	near("tanh, 3 re 1", soft.Amplitudes[2]/soft.Amplitudes[0], -0.06683187795, 1e-10)
	// Dead band of a fifth of the amplitude (describing function, Gelb and
	// Vander Velde): b1/A and THD of orders 2 to 20 from its closed form.
	const r = 0.2
	dead := m.Tone(law(func(x float64) float64 { return max(x-r, 0) + min(x+r, 0) }), 1)
	near("dead band, 1", dead.Amplitudes[0], 0.7470600781, 1e-7)
	a, sum := math.Asin(r), 0.0
	for n := 3.0; n <= 20; n += 2 {
		b := -2 / (math.Pi * n) * (math.Sin((n-1)*a)/(n-1) + math.Sin((n+1)*a)/(n+1))
		sum += b * b
	}
	near("dead band, THD to order 20", dead.THD(), math.Sqrt(sum)/0.7470600781, 1e-6)
}

// TestOrderWeighting uses a law that makes one harmonic: the third Chebyshev
// polynomial adds a third of 1 % to a tone of amplitude 1, which n²/4 raises by
// 7.044 dB (Shorter 1950).
func TestOrderWeighting(t *testing.T) {
	tone := NewMeter().Tone(law(func(x float64) float64 { return x + 0.01*(4*x*x*x-3*x) }), 1)
	if got := tone.THD(); math.Abs(got-0.01) > 1e-12 {
		t.Errorf("THD %g, want 0.01", got)
	}
	if got := 20 * math.Log10(tone.OrderWeighted()/tone.THD()); math.Abs(got-7.044) > 5e-4 {
		t.Errorf("order weighting %g dB, want 7.044", got)
	}
}
