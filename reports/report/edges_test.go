package report

import (
	"encoding/binary"
	"math"
	"math/rand/v2"
	"testing"

	"quietcross/corpus"
	"quietcross/corpus/bias"
	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/dsp/spectrum"
	"quietcross/reports/view/plot"
)

// sound is a manifest that no check refuses.
func sound() *corpus.Manifest {
	return &corpus.Manifest{
		Drive: 10, Rungs: []bias.Rung{{GainAtZero: 1, GainAtSwing: 1}},
		Items: []corpus.Item{{Channels: 1, Rate: 48000, Renderings: []corpus.Rendering{{Gain: 1}}}},
	}
}

// Numbers of a manifest, within what is legal and beyond.
func TestManifestEdges(t *testing.T) {
	for name, set := range map[string]struct {
		inside, beyond float64
		into           func(m *corpus.Manifest, v float64)
	}{
		"drive":           {0.999e6, 1.001e6, func(m *corpus.Manifest, v float64) { m.Drive = v }},
		"gain at rest":    {-0.999e6, -1.001e6, func(m *corpus.Manifest, v float64) { m.Rungs[0].GainAtZero = v }},
		"gain at swing":   {0.999e6, 1.001e6, func(m *corpus.Manifest, v float64) { m.Rungs[0].GainAtSwing = v }},
		"crossover width": {0.999e6, 1.001e6, func(m *corpus.Manifest, v float64) { m.Rungs[0].CrossoverWidth = v }},
		"channels":        {64, 65, func(m *corpus.Manifest, v float64) { m.Items[0].Channels = int(v) }},
		"no channels":     {1, 0, func(m *corpus.Manifest, v float64) { m.Items[0].Channels = int(v) }},
		"rate":            {1, 0, func(m *corpus.Manifest, v float64) { m.Items[0].Rate = int(v) }},
		"frames":          {0, -1, func(m *corpus.Manifest, v float64) { m.Items[0].Frames = int64(v) }},
		"trim":            {-300, -301, func(m *corpus.Manifest, v float64) { m.Items[0].Trim = level.DB(v) }},
		"matching":        {300, 301, func(m *corpus.Manifest, v float64) { m.Items[0].Renderings[0].Applied = level.DB(v) }},
		"make-up":         {300, 301, func(m *corpus.Manifest, v float64) { m.Items[0].Renderings[0].Residual.MakeUp = level.DB(v) }},
		"fitted gain":     {-0.999e6, -1.001e6, func(m *corpus.Manifest, v float64) { m.Items[0].Renderings[0].Gain = v }},
	} {
		m := sound()
		if set.into(m, set.inside); check(m) != nil {
			t.Errorf("%s: %v", name, check(m))
		}
		if set.into(m, set.beyond); check(m) == nil {
			t.Errorf("%s: %g was taken", name, set.beyond)
		}
	}
}

// A rendering passes something from a fitted gain of 1e-4, of either sign; the polarity
// of less is not told.
func TestPassingEdges(t *testing.T) {
	for gain, want := range map[float64]bool{1.05e-4: true, -1.05e-4: true, 0.95e-4: false, -0.95e-4: false} {
		if got := passes(corpus.Rendering{Gain: gain}); got != want {
			t.Errorf("gain %g: passes %v", gain, got)
		}
		told := flaws(&Rendering{Rendering: corpus.Rendering{Gain: gain}}) != ""
		if told != (want && gain < 0) {
			t.Errorf("gain %g: inversion told %v", gain, told)
		}
	}
}

// A file counts as the mix of two others up to twice what rounding to 16 bits changes.
func TestMixEdges(t *testing.T) {
	const count = 1.0 / math.MaxInt16
	for off, want := range map[float64]bool{1.9 * count: true, -1.9 * count: true, 2.1 * count: false} {
		out := [][]float64{{1, 0.5 + off}}
		if got := isMix(out, [][]float64{{1, 0.5}}, [][]float64{{0, 0}}, []part{{0, 1}, {2, 1}}); got != want {
			t.Errorf("%g counts off: %v", off/count, got)
		}
	}
}

// The strongest sample of a track has room for a count of dither in 16 bits.
func TestFullCount(t *testing.T) {
	c := clip{dither: rand.New(rand.NewPCG(1, 2))}
	track := c.store([][]float64{{0.5, -0.25, 0}})
	for i, want := range []int{32760, -16380, 0} {
		got := int(int16(binary.LittleEndian.Uint16(track.PCM[2*i:])))
		if got < want-1 || got > want+1 {
			t.Errorf("sample %d is %d counts, want %d and dither", i, got, want)
		}
	}
}

// The waveform around a crossing is shown over three widths of the crossover, at least
// over 12 samples and at most over 1920, and not beyond the next crossing.
func TestZoomEdges(t *testing.T) {
	ramp := make([]float64, 4*wider*finer+1)
	at := len(ramp) / 2
	for i := range ramp {
		ramp[i] = float64(i-at) / 8 // one a sample
	}
	for _, c := range []struct {
		width float64
		want  int
	}{{40, 480}, {1, 48}, {1e6, 7680}, {0, 7680}} {
		if got := zoom(ramp, at, 1, c.width); got != c.want {
			t.Errorf("width of %g samples: %d steps, want %d", c.width, got, c.want)
		}
	}
}

// The sentences change where the figures do.
func TestWordEdges(t *testing.T) {
	item := func(second float64) *Item {
		list := make([]Rendering, 2)
		for i, l := range []float64{-60, second} {
			list[i].Gain, list[i].Residual.Level = 1, level.DB(l)
		}
		return &Item{Renderings: list}
	}
	for second, want := range map[float64]int{-59.91: -1, -59.89: 0, -60.11: 1} {
		if got := minimumResidual(item(second)); got != want {
			t.Errorf("-60 and %g dB: %d is the minimum", second, got)
		}
	}
	r := &Report{Drive: 1}
	same := func(change float64) bool {
		rung := Rung{Rung: bias.Rung{GainAtZero: 1 + change, GainAtSwing: 1, ClipLow: -2, ClipHigh: 2}}
		return r.gainText(rung) == "the gain at rest is the same as at full swing"
	}
	if !same(4.5e-5) || !same(-4.5e-5) || same(5.5e-5) || same(-5.5e-5) {
		t.Error("gains within 0.005 % are the same, and others not")
	}
	for gain, want := range map[float64]bool{0.49: true, 0.51: false} {
		x := &Rendering{Rendering: corpus.Rendering{Gain: gain, Residual: corpus.Residual{Level: -40}}}
		x.RMS = -20
		if got := outcome(&Item{}, x) != outcome(&Item{}, &Rendering{Rendering: corpus.Rendering{Track: x.Track, Gain: 1, Residual: x.Residual}}); got != want {
			t.Errorf("gain %g: told %v", gain, got)
		}
	}
	if got := THD(&Harmonics{THD: 1.9e-3, Floor: 1e-3}); got != "under 0.20\u00a0%" {
		t.Errorf("THD within the floor: %q", got)
	}
	if got := THD(&Harmonics{THD: 2.1e-3, Floor: 1e-3}); got != "0.210\u00a0%" {
		t.Errorf("THD above the floor: %q", got)
	}
}

// The ear models are asked about two channels of any length.
func TestEarEdges(t *testing.T) {
	for channels, asked := range map[int]bool{1: true, 2: true, 3: false} {
		if got := beyondTheEar(&corpus.Item{Channels: channels, Rate: 1000, Frames: 1 << 40}) == ""; got != asked {
			t.Errorf("%d channels: asked %v", channels, got)
		}
	}
	for moments, want := range map[int]int{512: 512, 513: 257} {
		if got := len(course(hearing.Course{Step: 0.02, Moments: make([]hearing.Moment, moments)}, 60).Probability); got != want {
			t.Errorf("%d moments: %d values, want %d", moments, got, want)
		}
	}
}

// Probabilities that are next to nothing or certain are not rounded to it.
func TestProbabilityEdges(t *testing.T) {
	for p, want := range map[float64]string{
		0: "0.0\u00a0%", 0.0009: "under 0.1\u00a0%", 0.0011: "0.1\u00a0%",
		0.9989: "99.9\u00a0%", 0.9991: "over 99.9\u00a0%", 1: "100.0\u00a0%",
	} {
		if got := probability(p); got != want {
			t.Errorf("%g: %q, want %q", p, got, want)
		}
	}
	for p, want := range map[float64]string{0.009: "< 1\u00a0%", 0.011: "1\u00a0%", 0.989: "99\u00a0%", 0.991: "> 99\u00a0%"} {
		if got := briefly(&Detection{Probability: p}).Text; got != want {
			t.Errorf("%g: briefly %q, want %q", p, got, want)
		}
	}
}

// Rank correlations within 0.02 are much alike; within 0.005 they are written as one.
func TestRankingEdges(t *testing.T) {
	alikeText := ranking([]Correlation{{"thd", 5, 0.9}, {"gm", 5, 0.9}}, "these")
	for lower, want := range map[float64]bool{0.881: true, 0.879: false} {
		if got := ranking([]Correlation{{"thd", 5, 0.9}, {"gm", 5, lower}}, "these") == alikeText; got != want {
			t.Errorf("0.9 and %g: alike %v", lower, got)
		}
	}
	if got := ranking([]Correlation{{"thd", 5, 0.9}}, "these"); got != "" {
		t.Errorf("one number is ranked: %q", got)
	}
	for items, want := range map[int]bool{1: false, 2: true} {
		r := &Report{Items: make([]Item, items), Correlations: []Correlation{{"thd", 5, 0.9}}}
		if got := pooled(r) != nil; got != want {
			t.Errorf("%d items: pooled %v", items, got)
		}
	}
	for lower, want := range map[float64]string{0.896: "0.90", 0.894: "0.89 to 0.90"} {
		r := &Report{Items: []Item{{Correlations: []Correlation{{"thd", 5, lower}}}, {Correlations: []Correlation{{"thd", 5, 0.9}}}}}
		if got := within(r, "thd"); got != want {
			t.Errorf("0.9 and %g: %q", lower, got)
		}
	}
}

// Figures of a sine are solved for up to four times the drive, and the curves drawn over
// one and a half times the width of the deepest crossover.
func TestSpanEdges(t *testing.T) {
	r := &Report{Drive: 10}
	if !r.solvable(39.9) || r.solvable(40.1) || r.solvable(0) {
		t.Error("peaks up to 40 V are solved for")
	}
	for _, c := range []struct{ ratio, width, want float64 }{{0.99, 2, 3}, {0.99, 8, 10}, {1.01, 2, 10}} {
		r.Rungs = []Rung{{Rung: bias.Rung{GainAtZero: c.ratio, GainAtSwing: 1, CrossoverWidth: c.width}}}
		if got := r.span(); got != c.want {
			t.Errorf("%+v: %g V", c, got)
		}
	}
}

// Spectra go from 20 Hz to 20 kHz or half the rate, in bands that lie whole below that,
// of segments as long as the item allows.
func TestSpectralEdges(t *testing.T) {
	for _, c := range []struct {
		rate        int
		first, last float64
		top         float64
	}{{48000, 25, 20000, 20000}, {32000, 25, 12500, 16000}} {
		bands := thirdOctaves(c.rate)
		first, last := bands[0].Mid, bands[len(bands)-1].Mid
		if math.Abs(first/c.first-1) > 0.02 || math.Abs(last/c.last-1) > 0.02 || top(c.rate) != c.top {
			t.Errorf("%d Hz: %g to %g Hz, top %g", c.rate, first, last, top(c.rate))
		}
	}
	s := thin(&spectrum.Spectrum{Rate: 48000, Size: 48000, Power: make([]float64, 24001)})
	if s.Frequency[0] != 20 || s.Frequency[len(s.Frequency)-1] < 19500 || s.Frequency[len(s.Frequency)-1] > 20000 {
		t.Errorf("lines from %g to %g Hz", s.Frequency[0], s.Frequency[len(s.Frequency)-1])
	}
	for frames, want := range map[int64]int64{1023: 0, 1024: 1024, 65535: 32768, 65536: 65536, 1 << 20: 65536} {
		if got := steadySize(frames); got != want {
			t.Errorf("%d frames: %d", frames, got)
		}
	}
	if slotFrames(48000) != 2400 || slotFrames(19) != 1 {
		t.Errorf("slots of %d and %d frames", slotFrames(48000), slotFrames(19))
	}
	item := &corpus.Item{Rate: 192_000, Channels: 2, Frames: 1 << 40, Renderings: make([]corpus.Rendering, 8)}
	if got := (&survey{slot: 9600, energies: make([]float64, 1200)}).excerpt(item).Frames; got != 24<<20/(2*9*2) {
		t.Errorf("an excerpt of %d frames", got)
	}
}

// The ear model of BS.1387 is asked about a minute at most.
func TestStandardEdges(t *testing.T) {
	for frames, asked := range map[int64]bool{60 * 48000: true, 60*48000 + 1: false} {
		if _, got := asksStandard(&corpus.Item{Channels: 1, Rate: 48000, Frames: frames}, hearing.DefaultConditions()); got != asked {
			t.Errorf("%d frames: asked %v", frames, got)
		}
	}
}

// Figures in percent are of a probability, and of a number whose unit that is; a table of
// detections takes two items.
func TestPercentEdges(t *testing.T) {
	c := &Course{Step: 1, Probability: []float64{0.25, 0.5, 1}}
	if x, y := c.percent(1.5); len(x) != 2 || y[0] != 25 || y[1] != 50 {
		t.Errorf("%v at %v", y, x)
	}
	r := &Report{Items: []Item{{Renderings: make([]Rendering, 1)}}, Rungs: make([]Rung, 1)}
	r.Items[0].Renderings[0].Detection = &Detection{DPrime: 1}
	number := SimpleNumber{Of: func(*Rendering) (float64, bool) { return 0.02, true }}
	for unit, want := range map[string]float64{"%": 2, "V": 0.02} {
		if x, _ := points(r, 0, number, simple{unit: unit}); len(x) != 1 || x[0] != want {
			t.Errorf("2 in a hundred in %s: %v", unit, x)
		}
	}
	for items, want := range map[int]bool{1: false, 2: true} {
		r.Items = make([]Item, items)
		for i := range r.Items {
			r.Items[i].Renderings = []Rendering{{Detection: &Detection{}}}
		}
		if got := detected(r) != nil; got != want {
			t.Errorf("%d items: a table %v", items, got)
		}
	}
}

// A residual's spectrogram is drawn over 90 dB: one that lies wholly under that is named
// and not drawn.
func TestResidueEdges(t *testing.T) {
	picture := func(l float32) *Spectrogram {
		return &Spectrogram{Low: 20, High: 20000, Seconds: 1, Cols: 2, Rows: 1, Level: []float32{l, l}}
	}
	for l, drawn := range map[float32]int{-99: 2, -101: 1} {
		item := &Item{Renderings: make([]Rendering, 2)}
		item.Renderings[0].Residue, item.Renderings[1].Residue = picture(-10), picture(l)
		r := &Report{Items: []Item{*item}, Rungs: make([]Rung, 2)}
		if got := residueFigures(r, item, "a"); len(got.Panels) != drawn || (got.Under == "") != (drawn == 2) {
			t.Errorf("%g dB, 90 dB under the top being -100: %d drawn, %q", l, len(got.Panels), got.Under)
		}
	}
}

// Third octaves are of base ten (IEC 61260-1): their edges lie at 10^(±1/20) of their
// middles, which for 1 kHz is 891.25 and 1122.02 Hz.
func TestBandEdges(t *testing.T) {
	got := bandEdges([]float64{1000, 1000 * math.Pow(10, 0.1)})
	for i, want := range []float64{891.2509, 1122.0185, 1412.5375} {
		if math.Abs(got[i]-want) > 1e-3 {
			t.Errorf("edge %d at %g Hz, want %g", i, got[i], want)
		}
	}
}

// The gain is drawn enlarged where its whole span is three times that around full swing.
func TestEnlargedEdges(t *testing.T) {
	r := &Report{Rungs: []Rung{{Rung: bias.Rung{GainAtSwing: 1}}}}
	for span, want := range map[float64]bool{0.101: false, 0.103: true} { // 3 · (1.004 - 0.97) = 0.102
		slope := newBounds()
		slope.add(1)
		slope.add(1 - span)
		if got := enlarged(r, &plot.Figure{}, slope) != nil; got != want {
			t.Errorf("a span of %g: enlarged %v", span, got)
		}
	}
}
