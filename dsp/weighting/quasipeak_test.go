package weighting

import (
	"math"
	"testing"
)

// bursts returns 5 kHz bursts of the given length starting every period seconds
// (one burst if 0) for a time.
func bursts(rate, length, period, seconds float64) []float64 {
	x := make([]float64, int(seconds*rate))
	for i := range x {
		t := float64(i) / rate
		if period > 0 {
			t = math.Mod(t, period)
		}
		if t < length-1e-9 {
			x[i] = math.Sin(2 * math.Pi * 5000 * t)
		}
	}
	return x
}

func highest(rate float64, x []float64) float64 {
	q := NewQuasiPeak(rate)
	q.Add(x)
	return q.Highest()
}

// ITU-R BS.468-4, tables 2 and 3: percent of the steady reading, with limits.
func TestQuasiPeakBursts(t *testing.T) {
	for _, rate := range []float64{44100, 48000, 96000, 192000} {
		steady := highest(rate, bursts(rate, 4, 0, 4))
		for _, c := range []struct{ ms, perSecond, want, low, high float64 }{
			{1, 0, 17.0, 13.5, 21.4},
			{2, 0, 26.6, 22.4, 31.6},
			{5, 0, 40, 34, 46},
			{10, 0, 48, 41, 55},
			{20, 0, 52, 44, 60},
			{50, 0, 59, 50, 68},
			{100, 0, 68, 58, 78},
			{200, 0, 80, 68, 92},
			{5, 2, 48, 43, 53},
			{5, 10, 77, 72, 82},
			{5, 100, 97, 94, 100},
		} {
			period, seconds := 0.0, 1.2
			if c.perSecond > 0 {
				period, seconds = 1/c.perSecond, 4
			}
			got := 100 * highest(rate, bursts(rate, c.ms/1000, period, seconds)) / steady
			if rate == 48000 {
				t.Logf("%g ms, %g a second: %.1f %%, table %g (%g to %g)", c.ms, c.perSecond, got, c.want, c.low, c.high)
			}
			if got < c.low || got > c.high {
				t.Errorf("%g Hz: %g ms, %g a second: %.1f %%, want %g to %g", rate, c.ms, c.perSecond, got, c.low, c.high)
			}
		}
	}
}

// The detector reads the RMS value of a steady sine, and the signal's polarity
// does not matter (BS.468-4, reversibility).
func TestQuasiPeakCalibration(t *testing.T) {
	for _, rate := range []float64{44100, 48000, 192000} {
		for _, hertz := range []float64{400, 1000, 5000} {
			x := make([]float64, int(4*rate))
			for i := range x {
				x[i] = 0.5 * math.Sin(2*math.Pi*hertz*float64(i)/rate)
			}
			q := NewQuasiPeak(rate)
			q.Add(x)
			if e := 20 * math.Log10(q.Highest()/(0.5/math.Sqrt2)); math.Abs(e) > 0.1 {
				t.Errorf("%g Hz at %g Hz reads %+.3f dB", hertz, rate, e)
			}
		}
	}
	up, down := bursts(48000, 0.01, 0, 1), bursts(48000, 0.01, 0, 1)
	for i := range down {
		up[i] = math.Abs(up[i])
		down[i] = -math.Abs(down[i])
	}
	if a, b := highest(48000, up), highest(48000, down); a != b {
		t.Errorf("positive pulse %v, negative %v", a, b)
	}
}
