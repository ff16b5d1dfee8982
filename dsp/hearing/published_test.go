package hearing

import (
	"math"
	"testing"
)

// Published thresholds and the conditions under which the model is asked for the
// same. Each set names its source, and says where figures are from memory, read from
// a figure, or computed from a formula fitted to measurements.

// condition is one published figure, dB, and how the model is asked for it.
type condition struct {
	name      string
	published float64
	tolerance float64 // bar, dB
	measure   func(t testing.TB, p predictor) float64
}

// set is one source.
type set struct {
	name, source string
	decides      bool // a masked threshold, part of [ThresholdError]
	conditions   []condition
}

// published lists all sets.
func published() []set {
	return []set{
		quietSet(), durationSet(), intensitySet(), noiseLevelSet(), toneInNoiseSet(), notchedSet(),
		toneMaskerSet(), isoSet(), noiseMaskerSet(), forwardSet(), beatSet(), toneMasksNoiseSet(),
	}
}

func setNamed(t testing.TB, name string) set {
	for _, s := range published() {
		if s.name == name {
			return s
		}
	}
	t.Fatalf("no set %q", name)
	return set{}
}

// quietSet: ISO 226:2003 Table 1 (= ISO 389-7), values from memory. Tones of one
// second, at the table's frequencies, most of which lie between the model's bands.
func quietSet() set {
	s := set{name: "quiet", source: "ISO 226:2003 T_f"}
	for _, row := range quiet {
		f := row[0]
		if f < 125 || f > 10000 {
			continue
		}
		s.conditions = append(s.conditions, condition{hertz(f), row[1], 2, func(t testing.TB, p predictor) float64 {
			env := gate(testRate, 1.2, 0.1, 1.1, 0.02)
			return threshold(t, p, testRate, make([]float64, len(env)), sine(testRate, env, f, 0, 0.4))
		}})
	}
	return s
}

// durationSet: threshold in quiet re that of 500 ms: -10 lg(1 - exp(-T/tau)) (Plomp
// and Bouman, JASA 31, 1959). tau from memory: 375 ms at 250 Hz to 150 ms at 8 kHz,
// taken linear in the logarithm of frequency.
func durationSet() set {
	s := set{name: "duration", source: "Plomp and Bouman 1959"}
	for _, f := range []float64{1000, 4000} {
		tau := 0.375 - (0.375-0.150)*math.Log2(f/250)/5
		rise := func(d float64) float64 { return -db(1 - math.Exp(-d/tau)) }
		for _, d := range []float64{0.010, 0.020, 0.050, 0.100, 0.200} {
			s.conditions = append(s.conditions, condition{
				hertz(f) + " " + milliseconds(d), rise(d) - rise(0.5), 2,
				func(t testing.TB, p predictor) float64 { return burst(t, p, f, d) - burst(t, p, f, 0.5) },
			})
		}
	}
	return s
}

// burst returns the threshold in quiet of a tone whose energy is that of d seconds.
func burst(t testing.TB, p predictor, f, d float64) float64 {
	ramp := min(0.01, d/2)
	// A ramp of sin^2 holds 3/8 of its length in energy.
	d += 2 * ramp * (1 - 3./8)
	env := gate(testRate, d+0.7, 0.1, 0.1+d, ramp)
	return threshold(t, p, testRate, make([]float64, len(env)), sine(testRate, env, f, 0, 0.4))
}

// intensitySet: pulsed tones, dI/I = 0.463 (I/I0)^-0.072 with I0 at threshold
// (Jesteadt, Wier and Green, JASA 61, 1977), as a difference of level.
func intensitySet() set {
	s := set{name: "intensity", source: "Jesteadt, Wier and Green 1977"}
	for _, f := range []float64{1000, 4000} {
		for _, sl := range []float64{20, 40, 60, 80} {
			want := db(1 + 0.463*math.Pow(10, -0.0072*sl))
			s.conditions = append(s.conditions, condition{
				hertz(f) + " " + decibels(sl) + " SL", want, 0.5,
				func(t testing.TB, p predictor) float64 {
					env := gate(testRate, 0.7, 0.1, 0.6, 0.02)
					x := sine(testRate, env, f, sl+float64(QuietThreshold(f)), 0.4)
					return dbl(threshold(t, p, testRate, x, x))
				},
			})
		}
	}
	return s
}

// noiseLevelSet: differences of level of broadband noise, 0.41 dB from some 40 dB
// over threshold up (Miller, JASA 19, 1947; from memory).
func noiseLevelSet() set {
	s := set{name: "noise level", source: "Miller 1947"}
	for _, n0 := range []float64{15, 35} {
		s.conditions = append(s.conditions, condition{decibels(n0) + "/Hz", 0.41, 0.5, func(t testing.TB, p predictor) float64 {
			x := bandNoise(testRate, gate(testRate, 1.7, 0.1, 1.6, 0.02), 150, 7000, n0, 3)
			return dbl(threshold(t, p, testRate, x, x))
		}})
	}
	return s
}

// toneInNoiseSet: DIN 45681, masking index a_v = -2 - lg(1 + (f/502 Hz)^2.5) re the
// level in the critical band 25 + 75 (1 + 1.4 (f/kHz)^2)^0.69 Hz, re spectrum level.
// Tones of 500 ms in continuous noise, three noises.
func toneInNoiseSet() set {
	s := set{name: "tone in noise", decides: true, source: "DIN 45681"}
	for _, f := range []float64{250, 500, 1000, 2000, 4000, 8000} {
		width := 25 + 75*math.Pow(1+1.4*f*f/1e6, 0.69)
		want := db(width) - 2 - math.Log10(1+math.Pow(f/502, 2.5))
		s.conditions = append(s.conditions, condition{hertz(f), want, 3, func(t testing.TB, p predictor) float64 {
			return inNoise(t, p, f, 20, 20000, 30)
		}})
	}
	return s
}

// inNoise returns the threshold of a tone in noise re its spectrum level.
func inNoise(t testing.TB, p predictor, f, low, high, n0 float64) float64 {
	total := 0.0
	const seeds = 3
	for seed := range uint64(seeds) {
		x := bandNoise(testRate, gate(testRate, 1.1, 0.05, 1.05, 0.02), low, high, n0, seed+1)
		total += threshold(t, p, testRate, x, sine(testRate, gate(testRate, 1.1, 0.4, 0.9, 0.02), f, 0, 0.3))
	}
	return total/seeds - n0
}

// notchedSet: a tone at 1 kHz between two bands of noise of 40 dB/Hz, 0.8 f wide,
// each g f away; re no notch. The filter is the rounded exponential with the widths
// that Glasberg and Moore (1990) fitted to Patterson (JASA 59, 1976) and later
// data; its integral over the noise, (2 + p g) exp(-p g)/p, is the published form.
func notchedSet() set {
	s := set{name: "notched noise", decides: true, source: "Patterson 1976; Glasberg and Moore 1990"}
	const f, n0 = 1000.0, 40.0
	through := func(g float64) float64 {
		p := 4 * f / erbWidth(f)
		lower := p - 0.35*(n0+db(erbWidth(f))-51)
		side := func(p, g float64) float64 { return (2 + p*g) * math.Exp(-p*g) / p }
		return side(p, g) - side(p, g+0.8) + side(lower, g) - side(lower, min(1, g+0.8))
	}
	for _, g := range []float64{0.1, 0.2, 0.3} {
		s.conditions = append(s.conditions, condition{fixed(g, 1) + " f", db(through(g) / through(0)), 3, func(t testing.TB, p predictor) float64 {
			return inNotch(t, p, f, g, n0) - inNotch(t, p, f, 0, n0)
		}})
	}
	return s
}

func inNotch(t testing.TB, p predictor, f, g, n0 float64) float64 {
	env := gate(testRate, 1.1, 0.05, 1.05, 0.02)
	total := 0.0
	for seed := range uint64(2) {
		x := sum(bandNoise(testRate, env, max(20, f*(0.2-g)), f*(1-g), n0, seed+1),
			bandNoise(testRate, env, f*(1+g), f*(1.8+g), n0, seed+11), 1)
		total += threshold(t, p, testRate, x, sine(testRate, gate(testRate, 1.1, 0.4, 0.9, 0.02), f, 0, 0.3)) / 2
	}
	return total
}

// bark is the critical-band rate, z = 13 atan(0.76 F) + 3.5 atan((F/7.5)^2), F in
// kHz (Zwicker and Terhardt 1980).
func bark(f float64) float64 {
	return 13*math.Atan(0.76*f/1000) + 3.5*math.Atan(f*f/7500/7500)
}

// withQuiet adds the threshold in quiet to a masked one, as energies.
func withQuiet(masked, f float64) float64 {
	return db(math.Pow(10, masked/10) + QuietThreshold(f).Power())
}

// isoMask returns the mask of a tone of x dB SPL at masker for a tone at f: ISO/IEC
// 11172-3 Annex D, model 1. It returns false outside the model's range.
func isoMask(masker, f, x float64) (float64, bool) {
	dz := bark(f) - bark(masker)
	at := x - 6.025 - 0.275*bark(masker)
	switch {
	case dz < -3 || dz >= 8:
		return 0, false
	case dz < -1:
		return at + 17*(dz+1) - (0.4*x + 6), true
	case dz < 0:
		return at + (0.4*x+6)*dz, true
	case dz < 1:
		return at - 17*dz, true
	}
	return at - (dz-1)*(17-0.15*x) - 17, true
}

// toneMask returns the mask of a tone of x dB SPL at masker for a tone at f: Terhardt's
// slopes, 27 dB/Bark below and 24 + 230/f - 0.2 x above (Hearing Research 1, 1979),
// fitted to Zwicker's masking patterns, from 3 dB under the masker.
func toneMask(masker, f, x float64) float64 {
	dz := bark(f) - bark(masker)
	if dz < 0 {
		return x - 3 + 27*dz
	}
	return x - 3 - (24+230/masker-0.2*x)*dz
}

// bandMask returns the mask of a critical band of noise: 3 dB under the noise at its
// centre and 100 dB an octave below, whatever the level (Zwicker and Fastl, chapter 4;
// from memory), and Terhardt's slope above.
func bandMask(masker, f, x float64) float64 {
	if f < masker {
		return x - 3 + 100*math.Log2(f/masker)
	}
	return toneMask(masker, f, x)
}

// toneMaskerSet: a tone at 1 kHz masks another.
func toneMaskerSet() set {
	s := set{name: "tone masks tone", decides: true, source: "Terhardt 1979"}
	for _, l := range []float64{45, 65, 85} {
		for _, f := range []float64{500, 800, 1500, 2000, 3000, 4000} {
			s.conditions = append(s.conditions, condition{
				decibels(l) + " " + hertz(f), withQuiet(toneMask(1000, f, l), f), 5,
				func(t testing.TB, p predictor) float64 { return besideTone(t, p, l, f) },
			})
		}
	}
	return s
}

func besideTone(t testing.TB, p predictor, l, f float64) float64 {
	env := gate(testRate, 0.9, 0.05, 0.85, 0.02)
	return threshold(t, p, testRate, sine(testRate, env, 1000, l, 0.2), sine(testRate, gate(testRate, 0.9, 0.2, 0.7, 0.02), f, 0, 0.3))
}

// isoSet: how far under the mask of ISO/IEC 11172-3 Annex D, model 1 (quiet added as
// energy) a tone beside one at 1 kHz is heard, where that lies furthest; 0 if above.
func isoSet() set {
	s := set{name: "under the ISO mask", source: "ISO/IEC 11172-3 Annex D, model 1"}
	for _, l := range []float64{65, 75, 85} {
		for _, f := range []float64{2500, 3000} {
			mask, _ := isoMask(1000, f, l)
			s.conditions = append(s.conditions, condition{decibels(l) + " " + hertz(f), 0, 6, func(t testing.TB, p predictor) float64 {
				return min(0, besideTone(t, p, l, f)-withQuiet(mask, f))
			}})
		}
	}
	return s
}

// noiseMaskerSet: a band of noise, 160 Hz wide at 1 kHz, masks a tone.
func noiseMaskerSet() set {
	s := set{name: "noise band masks tone", decides: true, source: "Zwicker and Fastl ch. 4, by Terhardt's slopes"}
	for _, l := range []float64{45, 65, 85} {
		for _, f := range []float64{500, 800, 1000, 1500, 2000, 3000, 4000} {
			s.conditions = append(s.conditions, condition{
				decibels(l) + " " + hertz(f), withQuiet(bandMask(1000, f, l), f), 5,
				func(t testing.TB, p predictor) float64 {
					total := 0.0
					for seed := range uint64(2) {
						x := bandNoise(testRate, gate(testRate, 0.9, 0.05, 0.85, 0.02), 920, 1080, l-db(160), seed+1)
						total += threshold(t, p, testRate, x, sine(testRate, gate(testRate, 0.9, 0.2, 0.7, 0.02), f, 0, 0.3)) / 2
					}
					return total
				},
			})
		}
	}
	return s
}

// forwardSet: a tone of 300 ms masks one of the same frequency, 1 kHz and 20 ms,
// after it, the delay counted from the masker's end to the signal's beginning, at
// half amplitude: M = a (b - lg t) L, t in ms, L in dB over threshold (Jesteadt,
// Bacon and Lehman, JASA 71, 1982; a 0.351 and b 2.252 as transcribed in a public
// program, the definition of the delay from memory).
//
// At 4 kHz and 10 ms it is held against measured thresholds, 36.6, 44.1 and 51.6 dB
// SPL after maskers of 50, 70 and 90 (JASA 124, 2008, 2196, Table 4, means of
// four listeners; read); that its delay is 10 ms, and the signal 10 ms long, is an
// assumption after the same laboratory's paper of 2003.
func forwardSet() set {
	s := set{name: "forward masking", decides: true, source: "Jesteadt, Bacon and Lehman 1982"}
	for _, l := range []float64{40, 60, 80} {
		for _, d := range []float64{0.005, 0.010, 0.020, 0.040} {
			over := l - float64(QuietThreshold(1000))
			s.conditions = append(s.conditions, condition{
				decibels(l) + " " + milliseconds(d), 0.351 * (2.252 - math.Log10(1000*d)) * over, 5,
				func(t testing.TB, p predictor) float64 {
					masked, quiet := after(t, p, 1000, l, d, 0.02)
					return masked - quiet
				},
			})
		}
	}
	for _, row := range [][2]float64{{50, 36.6}, {70, 44.1}, {90, 51.6}} {
		l, want := row[0], row[1]
		s.conditions = append(s.conditions, condition{decibels(l) + " 4 kHz", want, 5, func(t testing.TB, p predictor) float64 {
			masked, _ := after(t, p, 4000, l, 0.01, 0.01)
			return masked
		}})
	}
	return s
}

// after returns the threshold of a tone that begins d seconds after a masker of l dB
// SPL, and that of the tone alone.
func after(t testing.TB, p predictor, f, l, d, length float64) (masked, quiet float64) {
	const ramp = 0.005
	masker := sine(testRate, gate(testRate, 1.1, 0.1, 0.4+ramp/2, ramp), f, l, 0.1)
	probe := sine(testRate, gate(testRate, 1.1, 0.4+d-ramp/2, 0.4+d+length+ramp/2, ramp), f, 0, 0.1)
	return threshold(t, p, testRate, masker, probe), threshold(t, p, testRate, make([]float64, len(masker)), probe)
}

// beatSet: amplitude modulation of a tone, 20 lg m at threshold, about -28 dB at low
// rates for 5 kHz and above 60 dB SPL (Kohlrausch, Fassel and Dau, JASA 108, 2000;
// from memory).
func beatSet() set {
	s := set{name: "modulation", decides: true, source: "Kohlrausch, Fassel and Dau 2000"}
	for _, rate := range []float64{8, 16, 32} {
		s.conditions = append(s.conditions, condition{fixed(rate, 0) + " /s", -28, 5, func(t testing.TB, p predictor) float64 {
			env := gate(testRate, 1.2, 0.1, 1.1, 0.05)
			x := sine(testRate, env, 5000, 70, 0.1)
			modulated := make([]float64, len(x))
			for i := range x {
				modulated[i] = x[i] * math.Sin(2*math.Pi*rate*float64(i)/testRate)
			}
			return threshold(t, p, testRate, x, modulated)
		}})
	}
	return s
}

// toneMasksNoiseSet: noise 80 Hz wide within a tone at 1 kHz is heard some 20 dB
// under it (Moore, Alcantara and Dau, JASA 104, 1998; from memory, read from a
// figure).
func toneMasksNoiseSet() set {
	s := set{name: "tone masks noise", decides: true, source: "Moore, Alcantara and Dau 1998"}
	for _, l := range []float64{65, 85} {
		s.conditions = append(s.conditions, condition{decibels(l), l - 20, 5, func(t testing.TB, p predictor) float64 {
			total := 0.0
			for seed := range uint64(2) {
				x := sine(testRate, gate(testRate, 0.9, 0.05, 0.85, 0.02), 1000, l, 0.2)
				n := bandNoise(testRate, gate(testRate, 0.9, 0.2, 0.7, 0.02), 960, 1040, -db(80), seed+1)
				total += threshold(t, p, testRate, x, n) / 2
			}
			return total
		}})
	}
	return s
}
