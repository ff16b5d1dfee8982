package survey

import (
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"quietcross/dsp/planar"
)

// White noise has equal power a hertz and so 10·log10(2) = 3.01 dB an octave more in bands
// of constant ratio; noise through one integration 6.02 dB an octave less.
func TestTiltOfNoise(t *testing.T) {
	random := rand.New(rand.NewPCG(8, 8))
	white, brown := make([]float64, 30*48000), make([]float64, 30*48000)
	state := 0.0
	for i := range white {
		white[i] = 0.1 * random.NormFloat64()
		state = 0.9999*state + 0.002*random.NormFloat64()
		brown[i] = state
	}
	for name, c := range map[string]struct {
		x    []float64
		want float64
	}{"white.wav": {white, 10 * math.Log10(2)}, "brown.wav": {brown, -10 * math.Log10(2)}} {
		f := File{name, filepath.Join(t.TempDir(), name)}
		write(t, f.Path, 48000, [][]float64{c.x})
		s, err := f.scan(t.Context())
		if err != nil || s.Tilt == nil || math.Abs(*s.Tilt-c.want) > 0.15 {
			t.Errorf("%s: %v, tilt %v, want %.2f dB an octave", name, err, s.Tilt, c.want)
		}
	}
}

// A stereo sine of 1 kHz at -23 dBFS has -23 LUFS (EBU Tech 3341, case 1); the quietest
// passage of one that falls by 10 dB is 10 LU under, and so is the range (EBU Tech 3342,
// case 1, from memory). A stretch that is cut out is the file's own samples.
func TestScanAndCut(t *testing.T) {
	const rate = 44100
	x := make([]float64, 40*rate)
	for i := range x {
		gain := math.Pow(10, -20.0/20)
		if i >= 20*rate {
			gain = math.Pow(10, -30.0/20)
		}
		x[i] = gain * math.Sin(2*math.Pi*1000*float64(i)/rate)
	}
	f := File{"a.wav", filepath.Join(t.TempDir(), "a.wav")}
	write(t, f.Path, rate, [][]float64{x, x})
	s, err := f.scan(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for what, c := range map[string][2]float64{
		"length": {s.Seconds, 40}, "peak": {float64(s.Peak), -20}, "range": {float64(*s.Range), 10}, "quietest": {float64(*s.Quietest), -30},
	} {
		if math.Abs(c[0]-c[1]) > 0.1 {
			t.Errorf("%s %g, want %g", what, c[0], c[1])
		}
	}
	audio, got, err := f.cut(t.Context(), Excerpt{From: 12.345, To: 15})
	if err != nil || got != rate || audio.Frames() != 15*rate-int(math.Round(12.345*rate)) {
		t.Fatalf("%v: %d frames at %d Hz", err, audio.Frames(), got)
	}
	whole := planar.Audio([][]float64{x, x}).Cut(int(math.Round(12.345*rate)), 15*rate)
	for c := range audio {
		for i := range audio[c] {
			if math.Abs(audio[c][i]-whole[c][i]) > 4.0/32768 { // 16 bits with dither
				t.Fatalf("channel %d differs at frame %d: %g, want %g", c, i, audio[c][i], whole[c][i])
			}
		}
	}
}
