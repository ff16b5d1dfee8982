package engine

import (
	"math"
	"testing"

	"quietcross/dsp/level"
)

// TestDigestMatches holds the gain that a digest gives to the loudness of the whole
// (ITU-R BS.1770-5): music that swells and decays through stages without a bias and well
// biased ones, output against input within 0.2 LU, the worst where the limiter works.
func TestDigestMatches(t *testing.T) {
	for _, piece := range []string{"struck-string", "quiet-chord"} {
		audio, err := Generate(piece, 48000, 1)
		must(t, err)
		d, heard := NewDigest(audio, 48000), 0
		for _, name := range []string{"pair-12w", "fet-30w"} {
			for _, c := range []struct {
				mode  string
				level level.DB
			}{{"bias", -3}, {"bias", -20}, {"as-built", -20}} {
				s, sheet := solve(t, name, c.mode, 0, 0, true)
				set := Controls{Level: c.level, TurnUp: true, Match: true, Monitor: Reference}
				set.Gain = d.Match(s.Law, sheet.Drive, set)
				reference, _ := loudness(double(record(t, audio, s, sheet.Drive, set)), 48000)
				set.Monitor = Output
				output, ok := loudness(double(record(t, audio, s, sheet.Drive, set)), 48000)
				if !ok {
					continue // nothing comes through
				}
				heard++
				apart := math.Abs(float64(output - reference))
				t.Logf("%s, %s, %s, %g dB: gain %.3g, %.3f LU apart", piece, name, c.mode, float64(c.level), set.Gain, apart)
				if apart > 0.2 {
					t.Errorf("%s, %s, %s, %g dB: %.3f LU apart", piece, name, c.mode, float64(c.level), apart)
				}
			}
		}
		if heard < 3 {
			t.Errorf("%s: only %d were heard", piece, heard)
		}
	}
}

// TestDigestOfALongSource keeps no more than it was told to, and what the loudness of the
// whole is.
func TestDigestOfALongSource(t *testing.T) {
	audio := make([][]float32, 1)
	for i := range 44100 * 150 {
		swell := 0.5 + 0.5*math.Sin(2*math.Pi*float64(i)/(44100*7.3))
		audio[0] = append(audio[0], float32(swell*math.Sin(2*math.Pi*311.7*float64(i)/44100)))
	}
	d := NewDigest(audio, 44100)
	if kept := float64(len(d.audio[0])) / d.rate; kept > 60 || kept < 55 {
		t.Errorf("%g s are kept", kept)
	}
	found, _ := d.meter.Integrated()
	want, _ := loudness(double(audio), 44100)
	t.Logf("digest %.2f LUFS, whole %.2f LUFS", float64(found), float64(want))
	if math.Abs(float64(found-want)) > 0.5 {
		t.Errorf("digest %.2f LUFS, whole %.2f LUFS", float64(found), float64(want))
	}
	silent := NewDigest([][]float32{make([]float32, 48000)}, 48000)
	s, sheet := solve(t, "single-class-a", "as-built", 0, 0, true)
	if g := silent.Match(s.Law, sheet.Drive, Controls{}); !(math.Abs(g) > 0 && math.Abs(g) <= level.DB(60).Amplitude()) {
		t.Errorf("silence is matched by %g", g)
	}
}

func BenchmarkMatch(b *testing.B) {
	audio, err := Generate("struck-string", 48000, 1)
	if err != nil {
		b.Fatal(err)
	}
	s, sheet := solve(b, "pair-12w", "bias", 0.4, 0, true)
	d := NewDigest(audio, 48000)
	for b.Loop() {
		d.Match(s.Law, sheet.Drive, Controls{Level: -20, TurnUp: true})
	}
}
