package weighting

import (
	"math"
	"math/cmplx"
	"slices"
	"testing"
)

var testRates = []float64{32000, 44100, 48000, 88200, 96000, 192000}

// IEC 61672-1, table 3 (also ANSI S1.4), rounded there to 0.1 dB, at the exact
// base-ten frequencies; and the analytic curve at three round ones.
func TestResponseA(t *testing.T) {
	for hertz, want := range map[float64]float64{
		10: -70.4, 100: -19.1, 1000: 0, 1995.26: 1.2, 10000: -2.5, 19952.6: -9.3,
	} {
		if got := 20 * math.Log10(ResponseA(hertz)); math.Abs(got-want) > 0.0501 {
			t.Errorf("A at %g Hz: %.3f dB, want %.1f", hertz, got, want)
		}
	}
	for hertz, want := range map[float64]float64{100: -19.1428, 2000: 1.2014, 10000: -2.4918} {
		if got := 20 * math.Log10(ResponseA(hertz)); math.Abs(got-want) > 2e-3 {
			t.Errorf("A at %g Hz: %.4f dB, want %.4f", hertz, got, want)
		}
	}
}

// table468 is table 1 of ITU-R BS.468-4: hertz, decibels, tolerance (at 6.3 kHz,
// where it is 0, the table's own rounding; at 31.5 kHz one-sided, +2.8).
var table468 = []struct{ hertz, want, below, above float64 }{
	{31.5, -29.9, 2, 2},
	{63, -23.9, 1.4, 1.4},
	{100, -19.8, 1, 1},
	{200, -13.8, .85, .85},
	{400, -7.8, .7, .7},
	{800, -1.9, .55, .55},
	{1000, 0, .5, .5},
	{2000, 5.6, .5, .5},
	{3150, 9.0, .5, .5},
	{4000, 10.5, .5, .5},
	{5000, 11.7, .5, .5},
	{6300, 12.2, .05, .05},
	{7100, 12.0, .2, .2},
	{8000, 11.4, .4, .4},
	{9000, 10.1, .6, .6},
	{10000, 8.1, .8, .8},
	{12500, 0, 1.2, 1.2},
	{14000, -5.3, 1.4, 1.4},
	{16000, -11.7, 1.6, 1.6},
	{20000, -22.2, 2, 2},
	{31500, -42.7, math.Inf(1), 2.8},
}

func TestResponse468AgainstTable(t *testing.T) {
	for _, row := range table468 {
		e := 20*math.Log10(Response468(row.hertz)) - row.want
		if e > row.above || e < -row.below {
			t.Errorf("468 at %g Hz: %+.3f dB from the table, tolerance +%g -%g", row.hertz, e, row.above, row.below)
		}
	}
}

// Every row of the table that lies below 0.4536 of the rate, for the digital
// filters too, and none may rise again above the rows.
func TestNoise468AgainstTable(t *testing.T) {
	for _, rate := range testRates {
		f := Noise468(rate)
		for _, row := range table468 {
			if row.hertz > 0.4536*rate {
				continue
			}
			e := decibels(f.Response(row.hertz)) - row.want
			if e > row.above || e < -row.below {
				t.Errorf("%g Hz: 468 at %g Hz %+.3f dB from the table, tolerance +%g -%g", rate, row.hertz, e, row.above, row.below)
			}
		}
		for hertz := 31500.0; hertz < rate/2; hertz += 500 {
			if got := decibels(f.Response(hertz)); got > -42.7+2.8 {
				t.Errorf("%g Hz: 468 rises to %.1f dB at %g Hz", rate, got, hertz)
			}
		}
	}
}

// The digital filters against the networks that they stand for.
func TestDigitalDesigns(t *testing.T) {
	for _, c := range []struct {
		name  string
		make  func(float64) *Filter
		ideal func(float64) float64
		limit float64
	}{
		{"A", A, ResponseA, 0.25},
		{"468", Noise468, Response468, 0.05},
	} {
		for _, rate := range testRates {
			f, worst, at := c.make(rate), 0.0, 0.0
			for hertz := 10.0; hertz <= min(0.4536*rate, 20000); hertz *= 1.01 {
				if e := math.Abs(decibels(f.Response(hertz)) - 20*math.Log10(c.ideal(hertz))); e > worst {
					worst, at = e, hertz
				}
			}
			t.Logf("%s at %g Hz: within %.4f dB (%.0f Hz)", c.name, rate, worst, at)
			if worst > c.limit {
				t.Errorf("%s at %g Hz: %.3f dB off at %.0f Hz, want %g", c.name, rate, worst, at, c.limit)
			}
		}
	}
}

// Samples through the filter against its response: a slow, obvious check that the
// recursion and the stated response are the same thing.
func TestFilterProcessesAsItsResponse(t *testing.T) {
	const whole = 44100 // a second: whole cycles of every tone
	for name, f := range map[string]*Filter{"A": A(44100), "468": Noise468(44100), "K": K(44100)} {
		for _, hertz := range []float64{100, 1000, 12000} {
			f.Reset()
			x := make([]float64, 96000)
			for i := range x {
				x[i] = math.Cos(2 * math.Pi * hertz * float64(i) / f.rate)
			}
			for from := 0; from < len(x); from += 1000 {
				f.Process(x[from:from+1000], x[from:from+1000])
			}
			sum := 0.0
			for _, v := range x[len(x)-whole:] {
				sum += v * v / whole
			}
			got, want := math.Sqrt(2*sum), cmplx.Abs(f.Response(hertz))
			if math.Abs(got/want-1) > 1e-9 {
				t.Errorf("%s at %g Hz: amplitude %v, response %v", name, hertz, got, want)
			}
		}
	}
	mustPanic(t, func() { K(48000).Process(make([]float64, 2), make([]float64, 3)) })
	mustPanic(t, func() { A(4000) })
}

// TestFilterResumes: a filter goes on where another one is, which goes on too.
func TestFilterResumes(t *testing.T) {
	x := make([]float64, 600)
	for i := range x {
		x[i] = math.Sin(float64(i * i))
	}
	for name, design := range map[string]func(float64) *Filter{"A": A, "468": Noise468, "K": K} {
		whole, first, second := design(48000), design(48000), design(48000)
		want, got, too := make([]float64, 600), make([]float64, 300), make([]float64, 300)
		whole.Process(want, x)
		first.Process(got, x[:300])
		second.Process(too, x[300:])
		second.Resume(first)
		first.Process(too, x[300:])
		second.Process(got, x[300:])
		if !slices.Equal(got, want[300:]) || !slices.Equal(too, want[300:]) {
			t.Errorf("%s: goes on otherwise", name)
		}
	}
	mustPanic(t, func() { K(48000).Resume(A(48000)) })
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
