package bs1387

import (
	"math"
	"testing"
)

// Values of the standard's polynomial at four levels, computed outside this
// project.
func TestStepSize(t *testing.T) {
	for l, want := range map[float64]float64{20: 1.375944, 40: 0.944139, 60: 0.636432, 80: 0.317750} {
		near(t, "step", stepSize(l), want, 6e-7)
	}
	if stepSize(0) < 1e29 || stepSize(-5) < 1e29 {
		t.Error("nothing may be noticed at or below 0 dB")
	}
}

// at returns a sensation with every band at 0 dB and band k at l dB.
func at(k int, l float64) (s sensation) {
	s.level[k] = l * decibel
	return s
}

// One step in one band is heard half of the time, whatever the exponent. Two rows
// beside it are computed apart, outside this project, from the published step at
// 60 dB SPL (0.636432 dB; the level is 0.3 max(ref, test) + 0.7 test): with the
// test at 60 and the reference half a decibel under or over it, p = 1 - 0.5^((e/s)^b)
// with b 6 where the test is louder and 4 where it is weaker. The level is 60 where
// the test is louder and 60.15 (a step of 0.633898 dB) where the reference is.
func TestDetectionOfOneBand(t *testing.T) {
	for _, c := range []struct {
		ref, test, probability, tolerance float64
		steps                             float64
	}{
		{60 - 0.636432, 60, 0.5, 1e-5, 0},
		{59.5, 60, 0.150392, 1e-6, 0},
		{60.5, 60, 0.235325, 1e-6, 0},
		{58, 60, 1, 1e-9, 2 / 0.636432},
	} {
		ref, test := at(30, c.ref), at(30, c.test)
		var doubt, steps pattern
		detect(&doubt, &steps, &ref, &test)
		got, total := binaural(&doubt, &steps)
		near(t, "probability", got, c.probability, c.tolerance)
		near(t, "whole decibels over the step", total, c.steps, 1e-5)
	}
}

// Bands are independent chances, and of two channels the better ear counts.
func TestDetectionOverBandsAndChannels(t *testing.T) {
	ref, test := at(30, 60), at(30, 60+stepSize(60.4))
	var alone, steps pattern
	detect(&alone, &steps, &ref, &test)
	p1, _ := binaural(&alone, &steps)
	both := alone
	detect(&both, &steps, &ref, &test)
	same, _ := binaural(&both, &steps)
	near(t, "two equal channels", same, p1, 0)
	both[31] = alone[30]
	two, _ := binaural(&both, &steps)
	near(t, "two bands", two, 1-(1-p1)*(1-p1), 1e-12)
}

// MFPDB: a certain difference raises the filtered probability as 1 - 0.9^n.
// ADBB: 0 without heard frames, -0.5 if they have no steps, else a logarithm.
func TestDetector(t *testing.T) {
	var d detector
	near(t, "nothing", d.averageBlock(), 0, 0)
	for range 7 {
		d.add(1, 0)
	}
	near(t, "filtered", d.maximum, 1-math.Pow(0.9, 7), 1e-12)
	near(t, "no steps", d.averageBlock(), -0.5, 0)
	for range 7 {
		d.add(1, 200)
	}
	near(t, "100 steps", d.averageBlock(), 2, 1e-12)
	maximum := d.maximum
	d.add(0, 0)
	near(t, "the maximum stays", d.maximum, maximum, 0)
}

// lobe is the energy of the main lobe of a tone over the square of its largest
// line where that is minimum, half-way between lines: 1.5/(8/(3π))².
var lobe = 1.5 / math.Pow(8/(3*math.Pi), 2)

// toneInNoise returns the sensation of white noise of density dB SPL/Hz with a
// tone of l dB SPL on line i, from expected line powers.
func toneInNoise(m *model, density, l float64, i int) (s sensation) {
	var power [lineCount]float64
	for n := range power {
		power[n] = math.Pow(10, density/10) * lineSpacing * lobe
	}
	tone := math.Pow(10, l/10) * lobe / 1.5 // 1.5 is the main lobe of a tone on a line
	power[i] += tone
	power[i-1] += tone / 4
	power[i+1] += tone / 4
	for n := range power {
		power[n] *= m.outer[n]
	}
	m.grouping.sum(&s.excitation, &power)
	for k := range s.excitation {
		s.excitation[k] += m.noise[k]
	}
	m.spread.apply(&s.excitation, &s.excitation)
	for k, e := range s.excitation {
		s.level[k] = math.Log(e)
	}
	return s
}

// halfHeard returns the level of a tone on line i, in dB SPL, that is heard half
// of the time in white noise of density dB SPL/Hz.
func halfHeard(m *model, density float64, i int) float64 {
	ref := toneInNoise(m, density, -200, i)
	low, high := -20.0, 120.0
	for range 40 {
		mid := (low + high) / 2
		test := toneInNoise(m, density, mid, i)
		var doubt, steps pattern
		detect(&doubt, &steps, &ref, &test)
		if p, _ := binaural(&doubt, &steps); p > 0.5 {
			high = mid
		} else {
			low = mid
		}
	}
	return low
}

// A tone in white noise is heard half of the time when the level of some band
// has risen by no more than the standard's own step, and, since 109 bands share
// the exponent sum of 1, by no less than 109^(-1/6) of it.
func TestMaskedThresholdOfATone(t *testing.T) {
	m := standard()
	for _, density := range []float64{20, 30, 40} {
		for _, f := range []float64{250, 500, 1000, 2000, 4000, 8000} {
			i := int(math.Round(f / lineSpacing))
			ref := toneInNoise(m, density, -200, i)
			test := toneInNoise(m, density, halfHeard(m, density, i), i)
			most := 0.0
			for k, r := range ref.level {
				r, x := r/decibel, test.level[k]/decibel
				most = max(most, (x-r)/stepSize(0.3*max(r, x)+0.7*x))
			}
			if most > 1.001 || most < math.Pow(109, -1.0/6) {
				t.Errorf("%g Hz in %g dB/Hz: %g steps at threshold", f, density, most)
			}
		}
	}
}

// What the package comment says of the model beside the ear. White noise masks a
// tone that is less than 17 dB above its density, from 500 Hz up 10 dB more a
// decade (Fastl and Zwicker, Psychoacoustics, chapter 4, from memory).
func TestModelBesideTheEar(t *testing.T) {
	m := standard()
	for _, f := range []float64{125, 250, 500, 1000, 2000, 4000, 8000} {
		i := int(math.Round(f / lineSpacing))
		over := halfHeard(m, -200, i) - terhardt(f)
		if over < 2 || over > 10 {
			t.Errorf("%g Hz in quiet: %g dB over the threshold", f, over)
		}
		for _, density := range []float64{20, 30, 40} {
			under := density + 17 + 10*max(0, math.Log10(f/500)) - halfHeard(m, density, i)
			if under < 1 || under > 7 {
				t.Errorf("%g Hz in %g dB/Hz: %g dB under the textbook", f, density, under)
			}
		}
	}
}
