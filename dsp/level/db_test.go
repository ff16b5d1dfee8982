package level

import (
	"math"
	"testing"
)

func TestDBConversions(t *testing.T) {
	// Definitions: 20 dB is ten times the amplitude and a hundred times the power.
	if got := DB(20).Amplitude(); math.Abs(got-10) > 1e-14 {
		t.Errorf("20 dB as amplitude: %v, want 10", got)
	}
	if got := DB(20).Power(); math.Abs(got-100) > 1e-12 {
		t.Errorf("20 dB as power: %v, want 100", got)
	}
	for _, d := range []DB{-120, -3.01, 0, 6.02, 40} {
		if got := FromAmplitude(d.Amplitude()); math.Abs(float64(got-d)) > 1e-12 {
			t.Errorf("amplitude round trip of %v: %v", d, got)
		}
		if got := FromPower(d.Power()); math.Abs(float64(got-d)) > 1e-12 {
			t.Errorf("power round trip of %v: %v", d, got)
		}
	}
	if got := FromAmplitude(0); !math.IsInf(float64(got), -1) {
		t.Errorf("amplitude 0: %v, want -Inf", got)
	}
}

func TestRMSPeakMean(t *testing.T) {
	x := make([]float64, 4800)
	for i := range x {
		x[i] = 0.25 + 0.5*math.Sin(2*math.Pi*float64(i)/48)
	}
	// Mean square of a sine A plus DC: A²/2 + DC².
	if got, want := RMS(x), math.Sqrt(0.125+0.0625); math.Abs(got-want) > 1e-14 {
		t.Errorf("RMS %v, want %v", got, want)
	}
	if got := Peak(x); math.Abs(got-0.75) > 1e-14 {
		t.Errorf("Peak %v, want 0.75", got)
	}
	if got := Mean(x); math.Abs(got-0.25) > 1e-14 {
		t.Errorf("Mean %v, want 0.25", got)
	}
	if RMS(nil) != 0 || Peak(nil) != 0 || Mean(nil) != 0 {
		t.Error("an empty signal must read 0")
	}
}

func TestScale(t *testing.T) {
	s := NewScale(20)
	x := []float64{-1, 0, 0.5}
	v := make([]float64, 3)
	s.ToVolts(v, x)
	if v[0] != -20 || v[1] != 0 || v[2] != 10 {
		t.Errorf("volts %v, want -20 0 10", v)
	}
	s.FromVolts(v, v)
	if v[0] != -1 || v[2] != 0.5 {
		t.Errorf("samples %v, want %v", v, x)
	}
	if got := s.At(-20).FullScale(); math.Abs(got-2) > 1e-14 {
		t.Errorf("full scale 20 dB down: %v V, want 2", got)
	}
	for _, bad := range []float64{0, -1, math.Inf(1), math.NaN()} {
		mustPanic(t, func() { NewScale(bad) })
	}
	mustPanic(t, func() { s.ToVolts(v, x[:2]) })
}

func mustPanic(t *testing.T, f func()) {
	t.Helper()
	defer func() {
		if recover() == nil {
			t.Error("no panic")
		}
	}()
	f()
}
