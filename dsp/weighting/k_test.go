package weighting

import (
	"math"
	"math/cmplx"
	"testing"
)

func decibels(h complex128) float64 { return 20 * math.Log10(cmplx.Abs(h)) }

// At 48 kHz the coefficients are those printed in ITU-R BS.1770-5, Annex 1,
// tables 1 and 2, also when they go through the bilinear relations.
func TestKAt48kIsPrinted(t *testing.T) {
	f := K(48000)
	shelf, high := f.stages[0].section, f.stages[1].section
	want := []float64{1.53512485958697, -2.69169618940638, 1.19839281085285, -1.69065929318241, 0.73248077421585, 1, -2, 1, -1.99004745483398, 0.99007225036621}
	got := append(append([]float64{}, shelf.b...), shelf.a1, shelf.a2)
	got = append(append(got, high.b...), high.a1, high.a2)
	for i := range want {
		if got[i] != want[i] {
			t.Errorf("coefficient %d: %v, want %v", i, got[i], want[i])
		}
	}
	for _, s := range []section{shelf48k, highPass48k} {
		near := rerate(s, 48000*(1+1e-13))
		for i, b := range near.b {
			if math.Abs(b-s.b[i]) > 1e-9 {
				t.Errorf("through the bilinear relations b[%d] %v, want %v", i, b, s.b[i])
			}
		}
		if math.Abs(near.a1-s.a1) > 1e-9 || math.Abs(near.a2-s.a2) > 1e-9 {
			t.Errorf("through the bilinear relations a %v %v, want %v %v", near.a1, near.a2, s.a1, s.a2)
		}
	}
}

// Other rates keep the response of 48 kHz: BS.1770-5 asks for the same
// frequency response.
func TestKAtOtherRates(t *testing.T) {
	ref := K(48000)
	for _, rate := range []float64{32000, 44100, 88200, 96000, 192000} {
		f, worst := K(rate), 0.0
		for _, hertz := range []float64{20, 40, 100, 500, 997, 1500, 2000, 3000, 5000, 8000, 10000} {
			worst = max(worst, math.Abs(decibels(f.Response(hertz))-decibels(ref.Response(hertz))))
		}
		t.Logf("%g Hz: within %.4f dB of 48 kHz up to 10 kHz", rate, worst)
		if worst > 0.1 {
			t.Errorf("%g Hz: %.3f dB off", rate, worst)
		}
	}
}
