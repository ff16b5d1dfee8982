package spectrum

import (
	"math"
	"testing"
)

// Exact mid-band frequencies of IEC 61260-1, annex E (base ten), rounded there to
// five figures: 25.119, 100.00, 199.53, 1000.0, 1258.9, 19953 Hz.
func TestThirdOctaves(t *testing.T) {
	bands := ThirdOctaves(20, 20000)
	if len(bands) != 30 {
		t.Fatalf("%d bands from 20 Hz to 20 kHz, want 30 (25 Hz to 20 kHz nominal)", len(bands))
	}
	all := ThirdOctaves(19.9, 20000)
	want := map[int]float64{0: 19.953, 1: 25.119, 7: 100.00, 10: 199.53, 17: 1000.0, 18: 1258.9, 30: 19953}
	for i, hertz := range want {
		if got := all[i].Mid; math.Abs(got/hertz-1) > 3e-5 {
			t.Errorf("band %d: %v Hz, want %v", i, got, hertz)
		}
	}
	for i := 1; i < len(all); i++ {
		if math.Abs(all[i].Low/all[i-1].High-1) > 1e-12 {
			t.Errorf("band %d starts at %v Hz, the one before ends at %v", i, all[i].Low, all[i-1].High)
		}
	}
	if got := ThirdOctaves(1000, 1000); len(got) != 1 || got[0].Mid != 1000 {
		t.Errorf("from 1 kHz to 1 kHz: %v", got)
	}
	mustPanic(t, func() { ThirdOctaves(0, 100) })
}

func TestBandLevels(t *testing.T) {
	const n, rate = 65536, 48000
	x := make([]float64, n)
	for i := range x {
		x[i] = math.Sin(2*math.Pi*1000.3/rate*float64(i)) + 0.001*math.Sin(2*math.Pi*5000.1/rate*float64(i))
	}
	bands := ThirdOctaves(25, 20000)
	for i, got := range Of(x, rate, BlackmanHarris7).BandLevels(bands) {
		switch b := bands[i]; {
		case b.Low < 1000 && b.High > 1000:
			if math.Abs(float64(got)) > 1e-4 {
				t.Errorf("1 kHz band %v dB, want 0", got)
			}
		case b.Low < 5000 && b.High > 5000:
			if math.Abs(float64(got)+60) > 1e-4 {
				t.Errorf("5 kHz band %v dB, want -60", got)
			}
		case got > -150:
			t.Errorf("band %.4g Hz %v dB, want nothing", b.Mid, got)
		}
	}
}
