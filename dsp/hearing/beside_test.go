package hearing_test

import (
	"math"
	"testing"

	"quietcross/dsp/bs1387"
	"quietcross/dsp/hearing"
)

// The detection of ITU-R BS.1387 and this package's, side by side on the same signals.

const (
	rate = 48000
	spl  = 100.0 // of a full-scale sine
)

// tone returns 0.7 s of a sine of f Hz and l dB SPL with ramps of 20 ms.
func tone(f, l float64) []float64 {
	x := make([]float64, 7*rate/10)
	for i := range x {
		t := float64(i) / rate
		ramp := math.Sin(math.Pi / 2 * min(1, t/0.02, (0.7-t)/0.02))
		x[i] = math.Pow(10, (l-spl)/20) * ramp * ramp * math.Sin(2*math.Pi*f*t)
	}
	return x
}

func plus(x, y []float64) []float64 {
	z := make([]float64, len(x))
	for i := range x {
		z[i] = x[i] + y[i]
	}
	return z
}

// both returns the standard's detection, 0 to 1, and d'.
func both(t *testing.T, ref, test []float64) (detection, dPrime float64) {
	t.Helper()
	c, err := bs1387.NewComparator(bs1387.Config{Rate: rate, Channels: 1, PlaybackSPL: spl})
	if err != nil {
		t.Fatal(err)
	}
	c.Add([][]float64{ref}, [][]float64{test})
	h, err := hearing.New(hearing.Config{Rate: rate, Channels: 1, PlaybackSPL: spl})
	if err != nil {
		t.Fatal(err)
	}
	h.Process([][]float64{ref}, [][]float64{test})
	return c.Result().Detection, h.Result().DPrime
}

// level returns the level, dB SPL, at which heard first holds, within 0.5 dB.
func level(heard func(l float64) bool) float64 {
	lo, hi := -20.0, 80.0
	for hi-lo > 0.5 {
		if middle := (lo + hi) / 2; heard(middle) {
			hi = middle
		} else {
			lo = middle
		}
	}
	return hi
}

// Beside a tone of 1 kHz and 80 dB SPL the standard detects, half of the time, a tone
// at 2 kHz from 16 and at 3 kHz from 3 dB SPL; two published models of masked thresholds
// give 37 to 43 and 23 to 26 (ISO/IEC 11172-3 Annex D, model 1; the level-dependent
// filters of Moore, Glasberg and Baer, JAES 45, 1997; both computed outside this
// project, and so are the standard's two).
func TestBesideBS1387(t *testing.T) {
	masker := tone(1000, 80)
	for _, c := range []struct{ f, standard, low, high float64 }{{2000, 16, 37, 43}, {3000, 3, 23, 26}} {
		old := level(func(l float64) bool { d, _ := both(t, masker, plus(masker, tone(c.f, l))); return d > 0.5 })
		own := level(func(l float64) bool { _, d := both(t, masker, plus(masker, tone(c.f, l))); return d > 1 })
		t.Logf("%g Hz beside 1 kHz of 80 dB SPL: BS.1387 %.1f, this model %.1f dB SPL, masked thresholds %g to %g", c.f, old, own, c.low, c.high)
		if math.Abs(old-c.standard) > 2 {
			t.Errorf("%g Hz: the standard detects from %.1f dB SPL, want %g", c.f, old, c.standard)
		}
		if own < c.low-5 || own > c.high+5 {
			t.Errorf("%g Hz: heard from %.1f dB SPL, published models %g to %g", c.f, own, c.low, c.high)
		}
	}
}

// The third harmonic of a tone at 1 kHz and 80 dB SPL: where each number has it heard.
func TestThirdHarmonicBeside(t *testing.T) {
	fundamental := tone(1000, 80)
	part := func(l float64) float64 { return 100 * math.Pow(10, (l-80)/20) }
	old := part(level(func(l float64) bool { d, _ := both(t, fundamental, plus(fundamental, tone(3000, l))); return d > 0.5 }))
	own := part(level(func(l float64) bool { _, d := both(t, fundamental, plus(fundamental, tone(3000, l))); return d > 1 }))
	t.Logf("third harmonic heard from %.3f %% by BS.1387, %.3f %% by this model", old, own)
	if own < 5*old {
		t.Errorf("from %.3f %%, and %.3f %% by the standard", own, old)
	}
}
