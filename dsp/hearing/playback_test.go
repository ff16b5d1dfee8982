package hearing

import (
	"math"
	"testing"

	"quietcross/dsp/level"
)

// One watt at one metre is what a sensitivity states; 6.02 dB for twice the
// distance, 20 dB for ten times the voltage, 3.01 dB for half the load.
func TestSPL(t *testing.T) {
	for _, c := range []struct {
		volts, load, distance float64
		sensitivity, want     level.DB
	}{
		{2.8284271247461903, 8, 1, 88, 88}, // 1 W at 1 m: the definition
		{2.8284271247461903, 8, 2, 88, 81.979400},
		{28.284271247461903, 8, 1, 88, 108}, // 100 W
		{2.8284271247461903, 4, 1, 88, 91.010300},
	} {
		got, err := SPL(c.volts, c.load, c.sensitivity, c.distance)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(float64(got-c.want)) > 1e-6 {
			t.Errorf("%+v: %g dB SPL", c, float64(got))
		}
	}
	for _, bad := range [][3]float64{{-1, 8, 1}, {1, 0, 1}, {1, 8, 0}, {math.NaN(), 8, 1}, {1, math.NaN(), 1}} {
		if _, err := SPL(bad[0], bad[1], 88, bad[2]); err == nil {
			t.Errorf("%v accepted", bad)
		}
	}
}

// The limits themselves are legal, what lies beyond is not.
func TestPlaybackLimits(t *testing.T) {
	for spl, legal := range map[level.DB]bool{20: true, 19.99: false, 110: true, 110.01: false, level.DB(math.NaN()): false} {
		if err := CheckSPL(spl); (err == nil) != legal {
			t.Errorf("%g dB SPL: %v", float64(spl), err)
		}
	}
}
