package signal

import (
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"quietcross/dsp/distortion"
	"quietcross/dsp/level"
)

// Loudness as EBU R 128 asks for: −23.0 LUFS ± 0.5 LU.
func TestPiecesHaveOneLoudness(t *testing.T) {
	for _, m := range pieces() {
		for seed := range uint64(2) {
			x := must(t, m.Name, scoreRate, 1+seed)
			meter := level.NewMeter(scoreRate, m.Channels)
			meter.Add(x)
			if got, ok := meter.Integrated(); !ok || math.Abs(float64(got)+23) > 0.5 || m.Loudness != -23 {
				t.Errorf("%s, seed %d: %.2f LUFS, stated %.2f", m.Name, seed, float64(got), float64(m.Loudness))
			}
		}
	}
}

func TestPiecesBeginAndEndInSilence(t *testing.T) {
	for _, m := range pieces() {
		for c, x := range must(t, m.Name, scoreRate, 1) {
			for i, v := range x[:frame(0.45)] {
				if v != 0 {
					t.Errorf("%s, channel %d: %g at %d, before the first sound", m.Name, c, v, i)
					break
				}
			}
			if tail := db(rms(x[len(x)-scoreRate/10:])); tail > -90 {
				t.Errorf("%s, channel %d: ends at %.1f dBFS", m.Name, c, tail)
			}
		}
	}
}

// The first sound comes at the same time at every rate and seed.
func TestOnsetsDoNotMove(t *testing.T) {
	for _, m := range pieces() {
		onset := func(rate int, seed uint64) float64 {
			x := must(t, m.Name, rate, seed)[0]
			limit := 0.003 * peak([][]float64{x})
			return float64(slices.IndexFunc(x, func(v float64) bool { return math.Abs(v) > limit })) / float64(rate)
		}
		first := onset(scoreRate, 1)
		if first < 0.45 || first > 0.8 { // the chord swells from nothing
			t.Errorf("%s begins at %.4f s", m.Name, first)
		}
		if moved := onset(44100, 1) - first; math.Abs(moved) > 1e-3 {
			t.Errorf("%s begins %.5f s later at 44.1 kHz", m.Name, moved)
		}
		if moved := onset(scoreRate, 2) - first; math.Abs(moved) > 0.01 {
			t.Errorf("%s begins %.5f s later with another seed", m.Name, moved)
		}
	}
}

func TestSeedsChangeNoiseOnly(t *testing.T) {
	for _, m := range everything() {
		a, b := must(t, m.Name, 48000, 1), must(t, m.Name, 48000, 2)
		again, err := m.Generate(48000, 1)
		if err != nil || !slices.EqualFunc(a, again, slices.Equal) {
			t.Errorf("%s: two takes with one seed differ (%v)", m.Name, err)
		}
		same := slices.EqualFunc(a, b, slices.Equal)
		if noisy := m.Kind == distortion.Programme; same == noisy {
			t.Errorf("%s: takes with two seeds equal: %v", m.Name, same)
		}
	}
}

// Below the lower rate's pass band, a piece has the same spectrum at two rates.
func TestContentIsTheSameAtEveryRate(t *testing.T) {
	for _, name := range []string{"plucked-string", "brushed-drum"} {
		reference := must(t, name, scoreRate, 1)[0]
		want := spectrum(reference)
		for _, rate := range []int{8000, 44100, 96000} {
			got := spectrum(must(t, name, rate, 1)[0])
			seconds := float64(len(reference)) / scoreRate
			var worst, maximum float64
			for i := range int(0.45 * float64(min(rate, scoreRate)) * seconds) {
				maximum = max(maximum, cmplx.Abs(want[i]))
				worst = max(worst, cmplx.Abs(want[i]-got[i]))
			}
			if e := db(worst / maximum); e > -110 {
				t.Errorf("%s at %d: differs by %.1f dB", name, rate, e)
			}
		}
	}
}

// A hole in the noise would leave distortion products bare, and a line would
// mask them: the brush's noise is dense, from 700 Hz to 8 kHz, falls off on
// either side, and has the spread of Gaussian noise from bin to bin. A power
// spectrum of Gaussian noise is exponentially distributed, its logarithm has a
// standard deviation of 5.57 dB (π/√6 nepers of power; C).
func TestBrushIsDenseNoise(t *testing.T) {
	x := must(t, "brushed-drum", scoreRate, 1)[0]
	density := func(lo, hi float64) float64 { return 10 * math.Log10(bandPower(x, scoreRate, lo, hi)/(hi-lo)) }
	middle := density(1500, 6000)
	for f := 700.0; f < 8000; f *= 1.26 {
		if d := density(f, 1.26*f) - middle; math.Abs(d) > 6 {
			t.Errorf("%.0f Hz: %.1f dB re 1.5 to 6 kHz", f, d)
		}
	}
	if top, low := density(16000, 20000)-middle, density(30, 100)-middle; top > -15 || low > -8 {
		t.Errorf("16 kHz %.1f dB, below 100 Hz %.1f dB", top, low)
	}
	var logs []float64
	dry := sweep(len(x), played("test"), throw(1, "test")) // a room colours it
	for i, v := range spectrum(dry) {
		if f := float64(i) * scoreRate / float64(len(x)); f > 3000 && f < 5000 {
			logs = append(logs, db(cmplx.Abs(v)))
		}
	}
	mean := sum(logs) / float64(len(logs))
	for i := range logs {
		logs[i] -= mean
	}
	if spread := rms(logs); math.Abs(spread-5.57) > 0.2 {
		t.Errorf("bins spread by %.2f dB, want 5.57", spread)
	}
}

// Two sweeps of the same figure are not the same noise.
func TestBrushDoesNotRepeat(t *testing.T) {
	x := must(t, "brushed-drum", scoreRate, 1)[0]
	one, two := x[frame(2.0):frame(2.3)], x[frame(2.0+2*brushBeat):frame(2.3+2*brushBeat)]
	if c := correlation(one, two); math.Abs(c) > 0.05 {
		t.Errorf("two sweeps correlate by %.3f", c)
	}
}

func sum(x []float64) (s float64) {
	for _, v := range x {
		s += v
	}
	return s
}

func BenchmarkGenerate(b *testing.B) {
	for _, m := range pieces() {
		b.Run(m.Name, func(b *testing.B) {
			for b.Loop() {
				if _, err := m.Generate(scoreRate, 1); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(b.Elapsed().Seconds()/float64(b.N)/m.Seconds*10, "s/10s-of-sound")
		})
	}
}
