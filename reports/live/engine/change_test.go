package engine

import (
	"bytes"
	"math"
	"slices"
	"testing"

	"quietcross/corpus/signal"
	"quietcross/dsp/level"
	"quietcross/dsp/spectrum"
	"quietcross/dsp/wave"
	"quietcross/stage"
)

// play plays frames in blocks of 256, and calls each before every block.
func play(p *Player, frames int, each func(at int)) [][]float32 {
	out := make([][]float32, len(p.audio))
	block := make([][]float32, len(out))
	for at := 0; at < frames; at += 256 {
		each(at)
		for c := range block {
			block[c] = make([]float32, min(256, frames-at))
		}
		p.Play(block)
		for c := range out {
			out[c] = append(out[c], block[c]...)
		}
	}
	return out
}

// steps returns the maximum step from one sample to the next.
func steps(audio [][]float32) float64 {
	worst := 0.0
	for _, x := range audio {
		for i := range x[1:] {
			worst = max(worst, math.Abs(float64(x[i+1])-float64(x[i])))
		}
	}
	return worst
}

// TestNoClick holds the maximum step between two samples while everything is moved to
// the maximum step of the programme at standing settings.
func TestNoClick(t *testing.T) {
	audio := music(48000, 0.7)
	laws := map[float64]*Solution{}
	var sheet *Sheet
	for _, volts := range []float64{0, 0.4, 0.8, 1.1, 1.25, 1.5} {
		laws[volts], sheet = solve(t, "pair-12w", "bias", volts, 0, true)
	}
	own := func(c Controls) float64 {
		worst := 0.0
		for _, s := range laws {
			worst = max(worst, steps(record(t, audio, s, sheet.Drive, c)))
		}
		return worst
	}
	loud := Controls{Monitor: Output, Match: true, Level: 0}
	for name, c := range map[string]struct {
		move  func(p *Player, at int)
		start Controls
		bound float64
	}{
		"bias": {func(p *Player, at int) {
			p.SetLaw(laws[[]float64{0, 1.25, 0.4, 1.5, 0.8, 1.1}[at/256%6]].Law)
		}, loud, own(loud)},
		"level": {func(p *Player, at int) {
			c := loud
			c.Level = []level.DB{0, -20, -3, -60}[at/1024%4]
			must(t, p.Set(c))
		}, loud, own(loud)},
		"monitor": {func(p *Player, at int) {
			c := loud
			c.MakeUp = 20
			c.Monitor = []Monitor{Output, Reference, Residual}[at/1024%3]
			must(t, p.Set(c))
		}, loud, own(loud)},
		"place": {func(p *Player, at int) {
			if at%4096 == 0 {
				p.Seek(float64(at%7) / 5)
			}
		}, loud, own(loud)},
		"pause": {func(p *Player, at int) {
			c := loud
			c.Paused = at/4096%2 == 1
			must(t, p.Set(c))
		}, loud, own(loud)},
	} {
		p, err := NewPlayer(audio, 48000, laws[0.8].Law, sheet.Drive, c.start)
		if err != nil {
			t.Fatal(err)
		}
		got := steps(play(p, 90000, func(at int) { c.move(p, at) }))
		t.Logf("%s: maximum step %.4f, at standing settings %.4f", name, got, c.bound)
		if got > c.bound {
			t.Errorf("%s: maximum step %.4f, at standing settings %.4f", name, got, c.bound)
		}
	}
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// TestChangeIsExact: once a new law has been faded in, its output is to the bit what it
// would have been had it played from the beginning.
func TestChangeIsExact(t *testing.T) {
	audio := music(48000, 0.7)
	first, sheet := solve(t, "pair-12w", "bias", 0.3, 0, false)
	second, _ := solve(t, "pair-12w", "bias", 1.2, 0, false)
	c := Controls{Monitor: Output}
	var runs [2][][]float32
	for i, law := range []*Solution{first, second} {
		p, err := NewPlayer(audio, 48000, law.Law, sheet.Drive, c)
		must(t, err)
		runs[i] = play(p, 20000, func(at int) {
			if at == 4096 {
				p.SetLaw(second.Law)
			}
		})
	}
	// Faded in by 20 ms, in whole blocks, behind the way's latency.
	from := 4096 + 960 + 256 + look
	for ch := range runs[0] {
		if !slices.Equal(runs[0][ch][from:], runs[1][ch][from:]) {
			t.Errorf("channel %d is not that of the second law", ch)
		}
		if slices.Equal(runs[0][ch][:4096], runs[1][ch][:4096]) {
			t.Errorf("channel %d was that of the second law before the change", ch)
		}
	}
}

// TestHeardInTime: half of a change of law is through within 20 ms of sound.
func TestHeardInTime(t *testing.T) {
	audio := [][]float32{make([]float32, 20000)}
	for i := range audio[0] {
		audio[0][i] = 0.02 // within the dead zone of the one, not of the other
	}
	first, sheet := solve(t, "pair-12w", "bias", 0, 0, true)
	second, _ := solve(t, "pair-12w", "bias", 1.4, 0, true)
	p, err := NewPlayer(audio, 48000, first.Law, sheet.Drive, Controls{Monitor: Output})
	must(t, err)
	out := play(p, 16000, func(at int) {
		if at == 8192 {
			p.SetLaw(second.Law)
		}
	})[0]
	before, after := float64(out[8000]), float64(out[15999])
	for i := 8192; i < 16000; i++ {
		if math.Abs(float64(out[i])-before) > math.Abs(after-before)/2 {
			t.Logf("half of the change is heard %.1f ms after it", float64(i-8192)/48)
			if i-8192 > 48*20 {
				t.Error("more than 20 ms")
			}
			return
		}
	}
	t.Errorf("from %g to %g: no change", before, after)
}

// TestMatches: the output is as loud as the input while the bias moves five times a
// second, within 0.5 LU of the loudness of the whole (ITU-R BS.1770-5). The programme
// keeps its level: one that swells through a dead zone is loud and silent by turns.
func TestMatches(t *testing.T) {
	audio := [][]float32{make([]float32, 90000), make([]float32, 90000)}
	for c := range audio {
		for i := range audio[c] {
			at := float64(i) / 48000
			audio[c][i] = float32(0.25 * (math.Sin(2*math.Pi*(191.3+float64(c))*at) + math.Sin(2*math.Pi*1433.7*at)))
		}
	}
	starved, sheet := solve(t, "pair-12w", "bias", 0.4, 0, true)
	biased, _ := solve(t, "pair-12w", "bias", 1.3, 0, true)
	var loud [2]level.DB
	for i, m := range []Monitor{Reference, Output} {
		p, err := NewPlayer(audio, 48000, starved.Law, sheet.Drive, Controls{Monitor: m, Match: true, Level: -15})
		must(t, err)
		meter := level.NewLoudness(48000, 2)
		meter.Add(double(play(p, 90000, func(at int) {
			if at%8192 == 0 {
				p.SetLaw([]*Solution{starved, biased}[at/8192%2].Law)
			}
		})))
		loud[i], _ = meter.Integrated()
	}
	t.Logf("input %.2f LUFS, output %.2f LUFS", float64(loud[0]), float64(loud[1]))
	if d := math.Abs(float64(loud[1] - loud[0])); d > 0.5 {
		t.Errorf("%.2f LU apart", d)
	}
}

// TestKnownGain: a known gain is taken at once, goes with the laws from then on, within
// 0.5 LU of what each needs, and is forgotten with the stage.
func TestKnownGain(t *testing.T) {
	audio := music(48000, 0.7)
	digest := NewDigest(audio, 48000)
	starved, sheet := solve(t, "pair-12w", "bias", 0.9, 0, true)
	biased, _ := solve(t, "pair-12w", "bias", 1.3, 0, true)
	c := Controls{Monitor: Output, Match: true, Level: -10, Loop: true}
	need := map[*Solution]float64{}
	for _, s := range []*Solution{starved, biased} {
		need[s] = digest.Match(s.Law, sheet.Drive, c)
	}
	c.Gain = need[starved]
	p, err := NewPlayer(audio, 48000, starved.Law, sheet.Drive, c)
	must(t, err)
	play(p, 96000, func(int) {})
	if p.match.value != c.Gain {
		t.Errorf("gain %g, was told %g", p.match.value, c.Gain)
	}
	for i := range 10 {
		s := []*Solution{biased, starved}[i%2]
		p.SetLaw(s.Law)
		play(p, 4096, func(int) {})
		must(t, p.Set(c)) // as before: says nothing of the gain
		if d := math.Abs(float64(level.FromAmplitude(p.match.value / need[s]))); d > 0.5 {
			t.Errorf("change %d: gain %.4f, %.4f needed: %.2f dB apart", i, p.match.value, need[s], d)
		}
	}
	for _, s := range []*Solution{starved, biased} { // with its gain behind it
		p.SetLaw(s.Law)
		c.Gain, c.Told = need[s], true
		must(t, p.Set(c))
		if play(p, 4096, func(int) {}); p.match.value != c.Gain {
			t.Errorf("gain %g, was told %g for the new law", p.match.value, c.Gain)
		}
	}
	p.SetStage(biased.Law, sheet.Drive)
	play(p, 4096, func(int) {})
	if p.known != 0 {
		t.Errorf("a gain of %g is still known", p.known)
	}
}

// TestHears holds what comes in in bursts to go out evenly, and what comes too fast to
// stay within the ear's length.
func TestHears(t *testing.T) {
	s, sheet := solve(t, "pair-12w", "bias", 1.3, 0, true)
	p, err := NewLivePlayer(2, 48000, s.Law, sheet.Drive, Controls{Monitor: Reference})
	must(t, err)
	block := func(from, n int) [][]float32 {
		x := make([]float32, n)
		for i := range x {
			x[i] = float32(0.5 * math.Sin(2*math.Pi*311*float64(from+i)/48000))
		}
		return [][]float32{x}
	}
	out := play(p, 48000, func(at int) {
		if at%1024 == 0 {
			must(t, p.Hear(block(at, 1024)))
		}
	})
	if got, most := steps(out), 0.5*2*math.Pi*311/48000; got > 1.01*most {
		t.Errorf("a step of %g, the tone's own are up to %g", got, most)
	}
	if got := math.Abs(float64(level.FromAmplitude(level.Peak(double(out)[1][9600:]) / 0.5))); got > 0.01 {
		t.Errorf("the second channel is off by %g dB", got)
	}
	for range 100 {
		must(t, p.Hear(block(0, 1024)))
	}
	if n := len(p.ear.queue[0]); n > p.ear.most {
		t.Errorf("%d frames are kept", n)
	}
	if p, err = NewPlayer(music(48000, 0.5), 48000, s.Law, sheet.Drive, Controls{Monitor: Output}); err != nil || p.Hear(block(0, 10)) == nil {
		t.Errorf("%v: a player of a file hears", err)
	}
}

// TestLimiter holds every sample to full scale, and what is within it to the bit.
func TestLimiter(t *testing.T) {
	l := newLimiter(1, look)
	x := make([]float64, 4000)
	for i := range x {
		x[i] = math.Sin(float64(i) / 7)
		if i > 1000 && i < 1200 {
			x[i] *= 50
		}
	}
	y := [][]float64{slices.Clone(x)}
	l.process(y)
	for i, v := range y[0] {
		if math.Abs(v) > 1+1e-12 {
			t.Fatalf("sample %d is %g", i, v)
		}
		if i >= look && (i < 1000-look || i > 1200+3*look) && v != x[i-look] {
			t.Fatalf("sample %d within full scale is %g, was %g", i, v, x[i-look])
		}
	}
	if r := l.reduction(); r > 1.0/49 || l.reduction() != 1 {
		t.Errorf("it tells a reduction of %g", r)
	}
}

// TestEncode reads what is saved with the project's own reader.
func TestEncode(t *testing.T) {
	audio := music(44100, 0.9)
	data := Encode(audio, 44100)
	r, err := wave.NewReader(bytes.NewReader(data), int64(len(data)), "saved")
	must(t, err)
	if f := r.Format(); f.Rate != 44100 || f.Channels != 2 || f.Encoding != wave.Float || f.Bits != 32 || len(r.Warnings()) > 0 {
		t.Fatalf("%v, %v", f, r.Warnings())
	}
	read := [][]float64{make([]float64, r.Frames()), make([]float64, r.Frames())}
	_, err = r.Read(read)
	must(t, err)
	if d := apart(t, audio, read); !math.IsInf(float64(d), -1) {
		t.Errorf("%g dB apart", float64(d))
	}
	again, err := Decode("saved.wav", data)
	must(t, err)
	if again.Rate != 44100 || !slices.Equal(again.Audio[1], audio[1]) {
		t.Error("decoded otherwise than encoded")
	}
	if _, err := Decode("song.mp3", []byte("ID3 and more than sixteen bytes")); err == nil {
		t.Error("a lossy file was taken")
	}
}

// TestPieces generates what it lists.
func TestPieces(t *testing.T) {
	pieces := Pieces()
	if len(pieces) != len(signal.List())+len(signal.Standards()) || pieces[0].Test {
		t.Fatalf("%d pieces, first %+v", len(pieces), pieces[0])
	}
	for _, p := range pieces {
		if p.Name != "tone" {
			continue
		}
		audio, err := Generate(p.Name, 48000, 1)
		must(t, err)
		s := spectrum.Of(double(audio)[0][4800:4800+1<<15], 48000, spectrum.BlackmanHarris4)
		if _, hertz, _ := s.Strongest(20, 20000); math.Abs(hertz-p.Tone) > 0.1 || p.Peak <= 0 {
			t.Errorf("a tone of %g Hz was announced as %g Hz, peak %g", hertz, p.Tone, p.Peak)
		}
	}
}

// TestView holds what the figures show to what was played: a tone's level, the trigger,
// and the powers to those of a sine.
func TestView(t *testing.T) {
	const hertz, peak = 437.3, 0.5
	audio := [][]float32{make([]float32, 5*48000)}
	for i := range audio[0] {
		audio[0][i] = float32(peak * math.Sin(2*math.Pi*hertz*float64(i)/48000))
	}
	s, sheet := solve(t, "pair-12w", "as-built", 0, 0, false)
	portrait, err := s.Portrait(nil)
	must(t, err)
	p, err := NewPlayer(audio, 48000, s.Law, sheet.Drive, Controls{Monitor: Output})
	must(t, err)
	const made = 4 * 48000
	scope, block := NewScope(), [][]float32{make([]float32, 256)}
	for range made / 256 {
		p.Play(block)
		scope.Note(p.Passed(256))
	}
	v := scope.View(p.Tell(), 1000, 0.01, true, portrait)
	strongest := slices.Max(v.Spectra.Reference)
	if want := 20 * math.Log10(peak); math.Abs(strongest-want) > 0.9 { // scalloping of the window: 0.83 dB (Harris 1978)
		t.Errorf("the tone is shown at %.2f dB, is %.2f dB", strongest, want)
	}
	first := v.Trace.In[int(math.Ceil(v.Trace.Offset))]
	if step := sheet.Drive * peak * 2 * math.Pi * hertz / 48000; first < 0 || first > 1.01*step {
		t.Errorf("the first sample after the crossing is %g V, a step is %g V", first, step)
	}
	if d := v.Peak / (sheet.Drive * peak); math.Abs(d-1) > 1e-3 {
		t.Errorf("peak %g V", v.Peak)
	}
	st, err := stage.New(mustLookup(t, "pair-12w"))
	must(t, err)
	biased, err := st.Set(stage.AsBuilt())
	must(t, err)
	want, err := biased.Power(sheet.Drive * peak)
	must(t, err)
	if v.Warmth == nil {
		t.Fatal("no warmth")
	}
	for name, pair := range map[string][2]float64{
		"supplies": {v.Warmth.Supply, want.Supply},
		"load":     {v.Warmth.Load, want.Load},
		"device":   {v.Warmth.Devices[0], want.Devices[biased.Outputs()[0]].Mean},
	} {
		t.Logf("%s: %.4g W, a sine's %.4g W", name, pair[0], pair[1])
		if math.Abs(pair[0]/pair[1]-1) > 0.01 {
			t.Errorf("%s: %.4g W, a sine's %.4g W", name, pair[0], pair[1])
		}
	}
}

func mustLookup(t *testing.T, name string) stage.Spec {
	t.Helper()
	spec, err := stage.Lookup(name)
	must(t, err)
	return spec
}
