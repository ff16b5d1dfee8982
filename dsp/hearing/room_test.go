package hearing

import (
	"math"
	"testing"
)

// A tone in a room: DIN 45681's masking index over the rating's density, with the
// threshold in quiet added as energy, within the 3 dB of tones in noise. NR 0 changes
// nothing.
func TestToneInARoom(t *testing.T) {
	env := gate(testRate, 0.8, 0.1, 0.7, 0.02)
	silence := make([]float64, len(env))
	for _, f := range []float64{250, 1000, 4000} {
		tone := sine(testRate, env, f, 0, 0.2)
		for _, nr := range []float64{15, 30} {
			width := 25 + 75*math.Pow(1+1.4*f*f/1e6, 0.69)
			want := withQuiet(db(roomDensity(nr, f)*width)-2-math.Log10(1+math.Pow(f/502, 2.5)), f)
			got := threshold(t, inRoom(standard, nr), testRate, silence, tone)
			t.Logf("%g Hz in NR %g: %.1f dB SPL, DIN 45681 %.1f", f, nr, got, want)
			if math.Abs(got-want) > 3 {
				t.Errorf("%g Hz in NR %g: %.1f dB SPL, want %.1f", f, nr, got, want)
			}
		}
		if off := threshold(t, inRoom(standard, 0), testRate, silence, tone) - float64(QuietThreshold(f)); math.Abs(off) > 2 {
			t.Errorf("%g Hz in NR 0: %.1f dB off the threshold in quiet", f, off)
		}
	}
	// The octave level of NR 15 at 1 kHz is 15 dB by definition of the rating.
	if got := db(roomDensity(15, 1000) * 1000 / math.Sqrt2); math.Abs(got-15) > 0.2 {
		t.Errorf("octave at 1 kHz of NR 15: %.2f dB", got)
	}
}
