package signal

import (
	"math"
	"math/cmplx"
	"testing"
)

// The frequencies and ratios of the standards, written out here once more:
// AES17-2015 (997 Hz); IEC 60268-3:2018, 14.12 (modulation 4:1; difference and
// total difference, equal tones). Amplitudes are those that add up to the peak.
var definitions = []struct {
	name      string
	peak      float64 // dBFS
	hz, share []float64
}{
	{"tone", -1, []float64{997}, []float64{1}},
	{"two-tone", -1, []float64{60, 7000}, []float64{0.8, 0.2}},
	{"aes17-997", 0, []float64{997}, []float64{1}},
	{"aes17-997-60db", -60, []float64{997}, []float64{1}},
	{"modulation-60-7000", -1, []float64{60, 7000}, []float64{0.8, 0.2}},
	{"modulation-250-8000", -1, []float64{250, 8000}, []float64{0.8, 0.2}},
	{"difference-19k-20k", -1, []float64{19000, 20000}, []float64{0.5, 0.5}},
	{"difference-13k-14k", -1, []float64{13000, 14000}, []float64{0.5, 0.5}},
	{"total-difference-8k-11950", -1, []float64{8000, 11950}, []float64{0.5, 0.5}},
}

func TestTonesAreAsTheStandardsDefine(t *testing.T) {
	for _, d := range definitions {
		for _, rate := range []int{44100, 96000} {
			x := must(t, d.name, rate, 1)[0]
			early := x[rate/10:][:rate/5+17] // no whole number of cycles
			late := x[3*rate:][:rate/5+17]
			first, residual := leastSquares(t, early, float64(rate), d.hz...)
			second, _ := leastSquares(t, late, float64(rate), d.hz...)
			if r := db(residual) - d.peak; r > -200 {
				t.Errorf("%s at %d: residual %.1f dB re peak", d.name, rate, r)
			}
			for k, f := range d.hz {
				want := d.peak + db(d.share[k])
				if got := db(cmplx.Abs(first[k])); math.Abs(got-want) > 1e-9 {
					t.Errorf("%s at %d, %g Hz: level %.12f, want %.12f dBFS", d.name, rate, f, got, want)
				}
				// 2.9 s of a frequency in tenths of hertz is a whole number of
				// cycles, or a known part: what is left over is frequency error.
				drift := cmplx.Phase(second[k] / first[k] * cmplx.Rect(1, -2*math.Pi*math.Mod(f*2.9, 1)))
				if hz := drift / (2 * math.Pi * 2.9); math.Abs(hz) > 1e-9 {
					t.Errorf("%s at %d: %g Hz is off by %g Hz", d.name, rate, f, hz)
				}
			}
		}
	}
}

func TestTestSignalRefusesARateThatLosesATone(t *testing.T) {
	m, err := Lookup("difference-19k-20k")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := m.Generate(32000, 1); err == nil {
		t.Error("20 kHz was generated at a rate of 32 kHz")
	}
	if _, err := m.Generate(44100, 1); err != nil {
		t.Errorf("20 kHz at 44.1 kHz: %v", err)
	}
}

// A square wave's odd harmonics are 4/(πn) of its amplitude. Behind a one-pole
// corner each half period is A·(1 − 2·e^(−t/τ)/(1 + e^(−T/2τ))), charging from
// one side to the other; the harmonics of that waveform, integrated here, are
// what the signal must hold.
func TestSquareWaveIsThatOfAChargedCapacitor(t *testing.T) {
	const rate, n = 384000, 1 << 16
	x := must(t, "dynamic-3150-15k", rate, 1)[0]
	bins := spectrum(x[rate : 2*rate]) // one second: bins are hertz
	sine := cmplx.Abs(bins[15000])
	amplitude := 4 * sine // peak to peak 4:1
	tau, half := 1/(2*math.Pi*30000), 1/(2*3150.0)
	for _, k := range []int{1, 3, 5, 7, 21} {
		var sum complex128
		for i := range n {
			at := (float64(i) + 0.5) / n * half
			v := 1 - 2*math.Exp(-at/tau)/(1+math.Exp(-half/tau))
			sum += complex(v, 0) * cmplx.Rect(1, -math.Pi*float64(k)*at/half)
		}
		want := amplitude * 2 * cmplx.Abs(sum) / n
		if got := cmplx.Abs(bins[3150*k]); math.Abs(db(got/want)) > 1e-4 {
			t.Errorf("harmonic %d: %.8f, want %.8f", k, got, want)
		}
		flat := amplitude * 4 / (math.Pi * float64(k)) / math.Hypot(1, 3150*float64(k)/30000)
		if got := cmplx.Abs(bins[3150*k]); math.Abs(db(got/flat)) > 1e-9 {
			t.Errorf("harmonic %d: %.8f, want 4/(πn) behind the corner, %.8f", k, got, flat)
		}
	}
	if even := cmplx.Abs(bins[6300]); db(even) > -200 {
		t.Errorf("second harmonic at %.1f dB", db(even))
	}
}

// The nine products of dynamic intermodulation below 15 kHz that IEC 60268-3
// lists fall where the signal itself is empty.
func TestDynamicSignalLeavesItsProductsFree(t *testing.T) {
	x := must(t, "dynamic-3150-15k", 48000, 1)[0]
	bins := spectrum(x[48000 : 2*48000])
	for _, f := range []int{750, 2400, 3900, 5550, 7050, 8700, 10200, 11850, 13350} {
		if a := db(cmplx.Abs(bins[f])); a > -200 {
			t.Errorf("%d Hz holds %.1f dBFS", f, a)
		}
	}
}

func TestLadderStepsBySixDecibelsAndIsSilentBetween(t *testing.T) {
	const rate = 48000
	m, err := Lookup("ladder")
	if err != nil {
		t.Fatal(err)
	}
	x := must(t, "ladder", rate, 1)[0]
	if len(m.Steps) != 10 {
		t.Fatalf("%d steps", len(m.Steps))
	}
	for i, s := range m.Steps {
		from, to := int(math.Ceil(s.From*rate)), int(s.To*rate)
		a, residual := leastSquares(t, x[from:to], rate, 397)
		if got, want := db(cmplx.Abs(a[0])), -6-6*float64(i); math.Abs(got-want) > 1e-9 || math.Abs(float64(s.Level)-want) > 1e-9 {
			t.Errorf("step %d: %.10f dBFS, stated %.10f, want %.10f", i, got, float64(s.Level), want)
		}
		if r := db(residual / cmplx.Abs(a[0])); r > -180 {
			t.Errorf("step %d: residual %.1f dB", i, r)
		}
		for n := int((float64(i) + 0.76) * rate); n < (i+1)*rate; n++ {
			if x[n] != 0 {
				t.Fatalf("%g at %.4f s, between steps", x[n], float64(n)/rate)
			}
		}
	}
}

func TestMultitone(t *testing.T) {
	const rate = 192000
	m, err := Lookup("multitone-31")
	if err != nil {
		t.Fatal(err)
	}
	x := must(t, m.Name, rate, 1)[0][rate : 2*rate]
	bins := spectrum(x)
	level := db(cmplx.Abs(bins[int(m.Tones[0].Frequency)]))
	isTone := map[int]bool{}
	for i, tone := range m.Tones {
		f := int(tone.Frequency)
		isTone[f] = true
		// Preferred third octaves lie at 10^(i/10) (IEC 61260-1); here from 20 Hz.
		if want := 20 * math.Pow(10, float64(i)/10); math.Abs(tone.Frequency-want) > 1.01 || f%2 != 1 {
			t.Errorf("tone %d at %d Hz, want the odd number by %.1f", i, f, want)
		}
		if got := db(cmplx.Abs(bins[f])); math.Abs(got-level) > 1e-9 || math.Abs(got-float64(tone.Level)) > 1e-9 {
			t.Errorf("%d Hz: %.10f dBFS, first tone %.10f, stated %.10f", f, got, level, float64(tone.Level))
		}
	}
	for f, v := range bins {
		if a := db(cmplx.Abs(v)); !isTone[f] && a > -200 {
			t.Fatalf("%d Hz, between the tones, holds %.1f dBFS", f, a)
		}
	}
	var maximum float64
	for _, v := range x {
		maximum = max(maximum, math.Abs(v))
	}
	crest := db(maximum / rms(x))
	if crest > 9.45 {
		t.Errorf("crest factor %.3f dB", crest)
	}
	if s := schroederCrest(m.Tones, rate); s < crest+3 {
		t.Errorf("Schroeder's phases reach %.2f dB, the table only %.2f", s, crest)
	}
}

// A rate that cannot carry the highest tones leaves the rest below the peak.
func TestMultitoneKeepsItsPeakAtLowRates(t *testing.T) {
	for rate := MinRate; rate < 48000; rate += 4319 {
		x := must(t, "multitone-31", rate, 1)
		if p := db(peak(x)); p > -1 || p < -4 {
			t.Errorf("%d Hz: peak %.2f dBFS", rate, p)
		}
	}
}

// schroederCrest returns the crest factor with the phases −πn²/N of Schroeder
// (IEEE Trans. Inf. Theory 16:85, 1970) for N equal tones.
func schroederCrest(tones []Tone, rate int) float64 {
	x := make([]float64, rate)
	for n, tone := range tones {
		tone.Phase = -math.Pi * float64(n*n) / float64(len(tones))
		addTone(x, tone, rate)
	}
	return db(peak([][]float64{x}) / rms(x))
}
