package engine

import (
	"math"
	"strings"
	"testing"

	"quietcross/corpus/render"
	"quietcross/dsp/level"
	"quietcross/dsp/shape"
	"quietcross/stage"
)

// straight is a law of gain 1.
func straight(t *testing.T) *shape.Law {
	t.Helper()
	law, err := shape.Fit(func(x float64) (y, slope float64, err error) { return x, 1, nil }, -10, 10, 1e-9)
	if err != nil {
		t.Fatal(err)
	}
	return law
}

// What controls may say, at its ends and beyond.
func TestLegalEnds(t *testing.T) {
	for name, c := range map[string]struct {
		set           func(*Controls, float64)
		legal, beyond []float64
	}{
		"level":   {func(c *Controls, v float64) { c.Level = level.DB(v) }, []float64{-60, 6}, []float64{-60.1, 6.1}},
		"make-up": {func(c *Controls, v float64) { c.MakeUp = level.DB(v) }, []float64{0, 60}, []float64{-0.1, 60.1}},
		"gain":    {func(c *Controls, v float64) { c.Gain = v }, []float64{1000, -1000}, []float64{1001, -1001}}, // 60 dB
	} {
		for _, v := range c.legal {
			o := Controls{Monitor: Output}
			if c.set(&o, v); o.Check() != nil {
				t.Errorf("%s: %v", name, o.Check())
			}
		}
		for _, v := range c.beyond {
			o := Controls{Monitor: Output}
			if c.set(&o, v); o.Check() == nil {
				t.Errorf("%s of %g was taken", name, v)
			}
		}
	}
}

// Gains follow where there is something to measure, -140 dB of a second or more, and match
// by up to 60 dB, as the render command does.
func TestEdgesOfTheBalance(t *testing.T) {
	last := gains{match: 7, fitted: 7}
	for _, c := range []struct {
		power, down float64
		want        gains
	}{
		{1, 59.9, gains{match: math.Pow(10, 59.9/20), fitted: 1}},
		{1, 60.1, gains{match: 1, fitted: 1}},
		{1.01e-14, 0, gains{match: 1, fitted: 1}},
		{0.99e-14, 0, last},
	} {
		b := &balance{rate: 100, lastGood: last, power: 100 * c.power, cross: 100 * c.power}
		b.loud = [2]float64{100 * c.power * math.Pow(10, -c.down/10), 100 * c.power}
		if got := b.gains(); math.Abs(got.match/c.want.match-1) > 1e-9 || math.Abs(got.fitted/c.want.fitted-1) > 1e-9 {
			t.Errorf("%+v: %+v", c, got)
		}
	}
	// Means forget by e in a second: of what is older than what is kept, a seventh is left.
	b := newBalance(48000, 1, straight(t), 1)
	if seconds := float64(b.foresight*b.thinned) / 48000; math.Abs(math.Exp(-seconds)-1./7.4) > 0.01 {
		t.Errorf("%g s are kept", seconds)
	}
}

// A live source is given from 20 ms on, and is cut to that where more than 120 ms wait.
func TestEdgesOfTheEar(t *testing.T) {
	for frames, want := range map[int]struct {
		giving bool
		kept   int
	}{959: {false, 959}, 960: {true, 960}, 5760: {true, 5760}, 5761: {true, 960}} {
		p, err := NewLivePlayer(1, 48000, straight(t), 1, Controls{Monitor: Output})
		if err != nil {
			t.Fatal(err)
		}
		if err := p.Hear([][]float32{make([]float32, frames)}); err != nil {
			t.Fatal(err)
		}
		if p.ear.giving != want.giving || len(p.ear.queue[0]) != want.kept {
			t.Errorf("%d frames: giving %v, %d kept", frames, p.ear.giving, len(p.ear.queue[0]))
		}
	}
}

// Sliders end at ten times the larger of optimum and current as built, or a hundredth under
// what the stage reaches, and begin at a microampere, or a hundredth over what it reaches.
func TestEdgesOfTheSliders(t *testing.T) {
	for _, name := range []string{"pair-12w", "single-class-a", "pair-1w"} {
		spec, err := stage.Lookup(name)
		if err != nil {
			continue
		}
		st, err := stage.New(spec)
		if err != nil {
			t.Fatal(err)
		}
		lo, hi, err := st.QuiescentRange()
		if err != nil {
			t.Fatal(err)
		}
		for _, optimum := range []float64{hi / 1e4, hi} { // either end binds
			s := Sheet{Optimum: optimum}
			if err := s.ladders(st); err != nil {
				t.Fatal(err)
			}
			if want := min(10*optimum, 0.99*hi); math.Abs(s.MaximumQuiescent/want-1) > 1e-9 {
				t.Errorf("%s: up to %g A, want %g", name, s.MaximumQuiescent, want)
			}
			if want := max(1e-6, 1.01*lo); math.Abs(s.MinimumQuiescent/want-1) > 1e-9 {
				t.Errorf("%s: from %g A, want %g", name, s.MinimumQuiescent, want)
			}
		}
	}
}

// A file is kept up to a quarter of an hour.
func TestEdgeOfAFile(t *testing.T) {
	const rate = 8000
	for frames, want := range map[int]int{900 * rate: 0, 900*rate + 1: 1} {
		file := append(riff(rate, frames), make([]byte, frames)...)
		r, err := Decode("long.wav", file)
		if err != nil {
			t.Fatal(err)
		}
		if len(r.Warnings) != want || len(r.Audio[0]) != 900*rate {
			t.Errorf("%d frames: %d kept, %q", frames, len(r.Audio[0]), r.Warnings)
		}
	}
}

// riff is the header of a mono WAV of 8 bits.
func riff(rate, frames int) []byte {
	le := func(v int) string { return string([]byte{byte(v), byte(v >> 8), byte(v >> 16), byte(v >> 24)}) }
	return []byte(strings.Join([]string{
		"RIFF", le(36 + frames), "WAVEfmt ", le(16), "\x01\x00\x01\x00", le(rate), le(rate), "\x01\x00\x08\x00data", le(frames),
	}, ""))
}

// Matching ends within 0.005 LU, or after eight trials where a limiter lets no gain help.
func TestEdgesOfMatching(t *testing.T) {
	const rate = 8000
	reference := [][]float64{make([]float64, rate)}
	for i := range reference[0] {
		reference[0][i] = 0.1 * math.Sin(2*math.Pi*997*float64(i)/rate)
	}
	scaled := func(gain float64) [][]float64 {
		out := make([]float64, rate)
		for i, v := range reference[0] {
			out[i] = gain * v
		}
		return [][]float64{out}
	}
	for off, want := range map[float64]int{0.0045: 1, 0.0055: 2} {
		trials := 0
		if _, err := matched(reference, straight(t), 1, rate, func(gain float64) ([][]float64, error) {
			trials++
			return scaled(gain * math.Pow(10, -off/20)), nil
		}); err != nil || trials != want {
			t.Errorf("%g LU off: %d trials, %v", off, trials, err)
		}
	}
	trials := 0
	if _, err := matched(reference, straight(t), 1, rate, func(float64) ([][]float64, error) {
		trials++
		return scaled(0.5), nil
	}); err != nil || trials != 8+1 { // and what is played with the last gain
		t.Errorf("behind a limiter: %d trials, %v", trials, err)
	}
}

// What is left of a fit is told up to 60 dB over what fits.
func TestEdgeOfWhatIsLeft(t *testing.T) {
	for ratio, want := range map[float64]float64{900: 900, 1100: 1000} {
		reference := [][]float64{{1, 0}}
		if got := left(reference, [][]float64{{1, ratio}}); math.Abs(got/want-1) > 1e-6 {
			t.Errorf("%g times what fits: %g", ratio, got)
		}
	}
}

// Bands go from 20 Hz to 20 kHz, a fiftieth wide each where lines are closer.
func TestEdgesOfTheBands(t *testing.T) {
	var first, last, narrow, wide float64
	bands(100_000, 0.5, func(from, to int, hertz float64) {
		if first == 0 {
			first = float64(from) * 0.5
		}
		last = hertz
		if from == 10_000 || hertz > 5000 && narrow == 0 {
			narrow, wide = float64(from), float64(to)
		}
	})
	if first != 20 || last > 20000*1.02 || last < 20000/1.02 {
		t.Errorf("bands from %g to %g Hz", first, last)
	}
	if ratio := wide / narrow; math.Abs(ratio-1.02) > 1e-3 {
		t.Errorf("a band of a ratio of %g", ratio)
	}
}

// Laws are applied and reach as far as the render command's static solver takes them, so
// that both make the same sound.
func TestLawsAreTheRenderCommands(t *testing.T) {
	if oversample != render.StaticOversample {
		t.Errorf("oversampled %d times, the command %d times", oversample, render.StaticOversample)
	}
	for l, want := range map[level.DB]float64{-20: 3, 0: 3, 6: 3 * math.Pow(10, 0.3)} { // half as much again
		if got := lawReach(2, l); math.Abs(got/want-1) > 1e-12 {
			t.Errorf("a law at %g dB reaches to %g V, want %g", float64(l), got, want)
		}
	}
}

// Full scale passes the limiter to the bit, and nothing comes out above it.
func TestEdgeOfTheLimiter(t *testing.T) {
	for _, peak := range []float64{0.6, 1, 1.01, 3} {
		l := newLimiter(1, look)
		for n := range 40 {
			block := make([]float64, 100)
			for i := range block {
				block[i] = peak * math.Copysign(1, math.Sin(float64(n*100+i)/7))
			}
			l.process([][]float64{block})
			for i, v := range block {
				out := math.Abs(v)
				if n == 0 && i < look {
					continue // the beginning is what stood in the delay
				}
				if peak <= 1 && out != peak || out > 1+1e-12 || out < 0.9*min(peak, 1) && n > 2 {
					t.Fatalf("a peak of %g comes out as %g at frame %d", peak, out, n*100+i)
				}
			}
		}
	}
}

// A change of the controls takes 20 ms, and a pause 6 ms: heard at once, and no click
// (TestNoClick); more than two channels are not played.
func TestEdgesOfChanges(t *testing.T) {
	audio := [][]float32{make([]float32, 48000)}
	p, err := NewPlayer(audio, 48000, straight(t), 1, Controls{Monitor: Output, Paused: true})
	if err != nil {
		t.Fatal(err)
	}
	if err := p.Set(Controls{Monitor: Residual, MakeUp: 10}); err != nil {
		t.Fatal(err)
	}
	if p.makeUp.left != 960 || p.way.fade != 960 || p.gate.left != 288 {
		t.Errorf("a change takes %d frames, one of the law %d, a pause %d", p.makeUp.left, p.way.fade, p.gate.left)
	}
	for channels, legal := range map[int]bool{0: false, 1: true, 2: true, 3: false} {
		audio := make([][]float32, channels)
		for c := range audio {
			audio[c] = make([]float32, 100)
		}
		if _, err := NewPlayer(audio, 48000, straight(t), 1, Controls{Monitor: Output}); (err == nil) != legal {
			t.Errorf("%d channels: %v", channels, err)
		}
	}
	// A level above the drive is taken as far as the law goes: here 10 V, to two thirds of it.
	for drive, want := range map[float64]float64{1: 1.5, 5: 10. / 7.5, 8: 1} {
		p, err := NewPlayer(audio, 48000, straight(t), drive, Controls{Monitor: Output, Level: level.FromAmplitude(1.5)})
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(p.level.value/want-1) > 1e-9 {
			t.Errorf("a drive of %g V: level %g, want %g", drive, p.level.value, want)
		}
	}
}
