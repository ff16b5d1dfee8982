package signal

import (
	"math"
	"testing"
)

// Partials of a stiff string, f_n = n·f0·sqrt(1 + B·n²): Fletcher, J. Acoust.
// Soc. Am. 36:203 (1964). The two stages of the decay lie up to 0.25 Hz apart
// on purpose, so a partial is found within that.
func TestStruckPartialsAreInharmonic(t *testing.T) {
	const hz, b = 164.81, 2.2e-4
	x := make([]float64, 4*scoreRate)
	struckNote{0, hz, 0.5, 10}.strike(x, played("test"), throw(1, "test"))
	for n := 1; n <= 15; n++ {
		if n%8 == 0 { // no partial: the hammer strikes at its node
			continue
		}
		want := float64(n) * hz * math.Sqrt(1+b*float64(n*n))
		if got := line(x, scoreRate, want, 20); math.Abs(got-want) > 0.3 {
			t.Errorf("partial %d: %.3f Hz, want %.3f", n, got, want)
		}
	}
}

// The prompt sound dies fast and the aftersound slowly (Weinreich, J. Acoust.
// Soc. Am. 62:1474, 1977: the later decay is several times slower).
func TestStruckDecayHasTwoStages(t *testing.T) {
	x := make([]float64, 9*scoreRate)
	struckNote{0, 164.81, 0.5, 10}.strike(x, played("test"), throw(1, "test"))
	level := func(at float64) float64 { return db(rms(x[frame(at):][:scoreRate/2])) }
	early, late := level(0.2)-level(1.2), level(7)-level(8)
	if early < 8 || late > early/2 {
		t.Errorf("falls %.1f dB in the first second and %.1f in the eighth", early, late)
	}
}

// The loop's partials follow the same law, and its first and highHz partials
// decay in the times it was designed for.
func TestWaveguideAgainstTheStiffString(t *testing.T) {
	for _, hz := range []float64{116.54, 220, 440} {
		s := stringSpec{hz: hz, b: 5e-5, decay: 3, highDecay: 0.6}
		w := newWaveguide(s)
		x := make([]float64, 3*scoreRate)
		for i := range x {
			x[i] = w.step(float64(1 - min(i, 1)))
		}
		for n := 1; n <= 15; n++ {
			want := float64(n) * hz * math.Sqrt(1+5e-5*float64(n*n))
			if want > 5000 {
				break
			}
			if e := cents(line(x, scoreRate, want, 15), want); math.Abs(e) > 1.5 {
				t.Errorf("%g Hz, partial %d: %.2f cents off", hz, n, e)
			}
		}
		first := bandPass(hz, 20)
		if got := decayTime(first.run(append([]float64(nil), x...)), scoreRate, -5, -35); math.Abs(got/3-1) > 0.03 {
			t.Errorf("%g Hz: first partial decays in %.3f s, want 3", hz, got)
		}
		high := math.Round(highHz/hz) * hz
		upper := bandPass(high, 60)
		if got := decayTime(upper.run(append([]float64(nil), x...)), scoreRate, -5, -35); math.Abs(got/0.6-1) > 0.10 {
			t.Errorf("%g Hz: partial at %.0f Hz decays in %.3f s, want 0.6", hz, high, got)
		}
	}
}

// Equal temperament: A4 = 440 Hz (ISO 16), a semitone is the twelfth root of 2.
func TestScoresAreInEqualTemperament(t *testing.T) {
	var hz []float64
	for _, s := range struckPhrase {
		hz = append(hz, s.hz)
	}
	for _, p := range pluckedPhrase {
		hz = append(hz, p.hz)
	}
	for _, v := range chordVoices {
		hz = append(hz, v.hz)
	}
	for _, f := range hz {
		semitones := 12 * math.Log2(f/440)
		if math.Abs(semitones-math.Round(semitones)) > 0.001 {
			t.Errorf("%g Hz lies %.4f semitones from 440 Hz", f, semitones)
		}
	}
}

// The blown notes, found in the sound itself: G4, B♭4, A4; F4, D4.
func TestWindPlaysItsMelody(t *testing.T) {
	x := must(t, "soft-wind", scoreRate, 1)[0]
	for _, c := range []struct{ at, semitones float64 }{{1, -2}, {2.4, 1}, {3.5, 0}, {5.8, -4}, {8, -7}} {
		want := 440 * math.Exp2(c.semitones/12)
		got := line(x[frame(c.at):][:scoreRate*6/10], scoreRate, want, 0.03*want)
		if math.Abs(cents(got, want)) > 8 {
			t.Errorf("at %g s: %.2f Hz, want %.2f", c.at, got, want)
		}
	}
}
