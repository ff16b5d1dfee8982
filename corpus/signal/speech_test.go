package signal

import (
	"math"
	"math/cmplx"
	"strings"
	"testing"
)

// Average formants of men's vowels: Peterson & Barney, J. Acoust. Soc. Am.
// 24:175 (1952), Table II (first three of hod, head, heed, hawed, who'd).
var petersonBarney = map[rune][3]float64{
	'a': {730, 1090, 2440}, 'e': {530, 1840, 2480}, 'i': {270, 2290, 3010},
	'o': {570, 840, 2410}, 'u': {300, 870, 2240},
}

// Formants are found as the poles of a linear prediction, as they are in
// recorded speech; a synthetic voice of 100 Hz shows them through harmonics
// that far apart, so they are held to 60 Hz or 8 %.
func TestVowelsHaveTheirFormants(t *testing.T) {
	const rate = 10000
	x := must(t, "soft-speech", rate, 1)[0]
	seen := 0
	for _, p := range speechPhrases {
		text := strings.NewReplacer("'", "", " ", "", ":", "").Replace(p.text)
		for i, s := range p.place() {
			want, vowel := petersonBarney[rune(text[i])]
			if !vowel || s.to-s.from < 0.28 { // a drawn-out vowel stands still
				continue
			}
			seen++
			middle := x[int((s.from+0.12)*rate):int((s.to-0.04)*rate)]
			got := formants(middle, rate)
			for k, f := range want {
				if near := nearest(got, f); math.Abs(near-f) > max(60, 0.08*f) {
					t.Errorf("%c at %.2f s: formant %d at %.0f Hz, want %.0f (found %.0f)", text[i], s.from, k+1, near, f, got)
				}
			}
		}
	}
	if seen < 4 {
		t.Errorf("only %d vowels long enough to measure", seen)
	}
}

// formants returns the peaks of the linear-prediction spectrum of x, order 12,
// autocorrelation method (Markel & Gray, Linear Prediction of Speech, 1976).
func formants(x []float64, rate float64) []float64 {
	const order = 12
	y := make([]float64, len(x))
	for i := 1; i < len(x); i++ {
		y[i] = x[i] - 0.95*x[i-1]
	}
	y = hann(y)
	var r [order + 1]float64
	for k := range r {
		for i := k; i < len(y); i++ {
			r[k] += y[i] * y[i-k]
		}
	}
	a := levinson(r[:])
	var peaks []float64
	gain := func(f float64) float64 {
		var sum complex128
		for k, c := range a {
			sum += complex(c, 0) * cmplx.Rect(1, -2*math.Pi*f/rate*float64(k))
		}
		return 1 / cmplx.Abs(sum)
	}
	for f := 100.0; f < rate/2-10; f += 5 {
		if gain(f) > gain(f-5) && gain(f) >= gain(f+5) {
			peaks = append(peaks, f)
		}
	}
	return peaks
}

// levinson solves the normal equations for the prediction error filter.
func levinson(r []float64) []float64 {
	a := []float64{1}
	e := r[0] * (1 + 1e-9)
	for m := 1; m < len(r); m++ {
		var k float64
		for i, v := range a {
			k -= v * r[m-i]
		}
		k /= e
		next := append(append([]float64(nil), a...), 0)
		for i := 1; i <= m; i++ {
			next[i] += k * append(a, 0)[m-i]
		}
		a, e = next, e*(1-k*k)
	}
	return a
}

func nearest(list []float64, want float64) float64 {
	best := math.Inf(1)
	for _, v := range list {
		if math.Abs(v-want) < math.Abs(best-want) {
			best = v
		}
	}
	return best
}

// The closure is rounded over two samples, so that a pulse train leaves less
// between its harmonics than plain pulses do.
func TestGlottalPulsesFoldBackLittle(t *testing.T) {
	for _, pitch := range []int{101, 397} {
		x, plain := make([]float64, scoreRate), make([]float64, scoreRate)
		g := glottis{hand: played("test"), length: 1, strength: 1}
		for i := range x {
			g.length, g.strength = 1, 1 // steady, for the test
			x[i], _ = g.step(float64(pitch))
			if u := g.phase / openQuotient; u < 1 {
				plain[i] = 2*u - 3*u*u
			}
		}
		rounded, sharp := betweenHarmonics(x, pitch), betweenHarmonics(plain, pitch)
		t.Logf("%d Hz: %.1f dB, plain pulses %.1f dB", pitch, rounded, sharp)
		if rounded > -60 || rounded > sharp-15 {
			t.Errorf("%d Hz: aliases below 5 kHz at %.1f dB, of plain pulses %.1f dB", pitch, rounded, sharp)
		}
	}
}

// betweenHarmonics returns the power of one second of x below 5 kHz that lies
// on no multiple of pitch, in dB re that which does.
func betweenHarmonics(x []float64, pitch int) float64 {
	bins := spectrum(x)
	var on, off float64
	for f := 50; f < 5000; f++ {
		p := real(bins[f])*real(bins[f]) + imag(bins[f])*imag(bins[f])
		if f%pitch == 0 {
			on += p
		} else {
			off += p
		}
	}
	return 10 * math.Log10(off/on)
}
