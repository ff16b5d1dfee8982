package signal

import (
	"math"
	"testing"

	"quietcross/dsp/level"
)

// A sinusoid is carried up to 0.46 of the rate; tones end over 20 ms; peaks lie between
// -140 dB and full scale.
func TestEdgesOfTones(t *testing.T) {
	for share, carried := range map[float64]bool{0.459: true, 0.461: false} {
		x := make([]float64, 1000)
		addTone(x, Tone{Frequency: share * 8000}, 8000)
		most := 0.0
		for _, v := range x {
			most = max(most, math.Abs(v))
		}
		if (most > 0.9) != carried || !carried && most != 0 {
			t.Errorf("%g of the rate: a peak of %g", share, most)
		}
	}
	m, err := Lookup("tone")
	if err != nil {
		t.Fatal(err)
	}
	for peak, legal := range map[level.DB]bool{-140: true, -140.1: false, 0: true, 0.1: false} {
		if _, err := m.At(peak); (err == nil) != legal {
			t.Errorf("a peak of %g dB: %v", float64(peak), err)
		}
	}
	const rate = 48000
	x, err := m.Generate(rate, 1)
	if err != nil {
		t.Fatal(err)
	}
	envelope := func(from, to float64) (most float64) {
		for _, v := range x[0][int(from*rate):int(to*rate)] {
			most = max(most, math.Abs(v))
		}
		return most
	}
	full := m.Peak.Amplitude()
	if a, b := envelope(0, 0.018)/full, envelope(0.0205, 0.03)/full; a > 0.999 || b < 0.99 { // a raised cosine: 0.976 at 18 ms
		t.Errorf("within the fade %g, after it %g", a, b)
	}
}

// A piece is as loud as EBU R 128 asks, -23 LUFS, and like the multitone reaches to 1 dB under
// full scale: its notes have a gain of their own, and all is turned down where they would
// pass that.
func TestLevelsOfPieces(t *testing.T) {
	for name, loudness := range map[string]level.DB{"soft-wind": -23, "multitone-31": 0} {
		m, err := Lookup(name)
		if err != nil {
			t.Fatal(err)
		}
		if m.Peak != -1 || loudness != 0 && m.Loudness != loudness {
			t.Errorf("%s: peak %g dB, %g LUFS", name, float64(m.Peak), float64(m.Loudness))
		}
	}
	for amplitude, want := range map[float64]level.DB{0.1: -20 + 6, 0.4: -8 + 6, 0.5: -1, 4: -1} {
		sine := func(n int, _ uint64) [][]float64 {
			x := make([]float64, n)
			for i := range x {
				x[i] = amplitude * math.Sin(2*math.Pi*997*float64(i)/scoreRate)
			}
			return [][]float64{x}
		}
		x := record(6, sine)(Material{Seconds: 1, Peak: -1}, scoreRate, 1)
		if got := level.FromAmplitude(peak(x)); math.Abs(float64(got-want)) > 0.05 {
			t.Errorf("notes of %g: a peak of %g dB, want %g", amplitude, float64(got), float64(want))
		}
	}
}
