package server

import (
	"errors"
	"math"
	"strings"
	"testing"

	"quietcross/dsp/level"
)

func newLadder(t *testing.T, c Clips) *ladder {
	t.Helper()
	return &ladder{clips: c, material: c.Materials()[0], spool: testSpool(t), record: func(string, string, Rung) error { return nil }}
}

// Every level inside the limits is met within the tolerance, whatever the shape
// of the law, and the rungs beyond the optimum are not used.
func TestLadderMeetsEveryLevel(t *testing.T) {
	clips := shortClips()
	l := newLadder(t, clips)
	if err := l.prepare(Defaults(Adaptive)); err != nil {
		t.Fatal(err)
	}
	lo, hi := l.ends()
	if hi != -20 || lo > -60 || lo < -70 {
		t.Errorf("limits %g to %g", lo, hi)
	}
	for want := hi; want >= lo; want -= 0.7 {
		rung, sound, err := l.at(want)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(float64(rung.Residual)-want) > levelTolerance {
			t.Errorf("asked %g dB, got %g", want, rung.Residual)
		}
		if rung.Quiescent > optimumCurrent+0.005 || sound.frames != clips.frames {
			t.Errorf("rung %+v of %d frames", rung, sound.frames)
		}
	}
	before := clips.rendered.Load()
	for range 3 {
		if _, _, err := l.at(-33); err != nil {
			t.Fatal(err)
		}
	}
	if n := clips.rendered.Load() - before; n > 3 {
		t.Errorf("%d renderings for one level three times", n)
	}
}

// faulty spoils one answer of the synthetic clips.
type faulty struct {
	*synthetic
	only      string // the material that is spoilt; "" for all
	rate      int
	reference func([][]float64) [][]float64
	rendering func([][]float64, Rung) ([][]float64, Rung, error)
}

func (f faulty) Reference(m string) (int, [][]float64, error) {
	rate, audio, err := f.synthetic.Reference(m)
	if f.rate != 0 {
		rate = f.rate
	}
	if f.reference != nil {
		audio = f.reference(audio)
	}
	return rate, audio, err
}

func (f faulty) Rendering(m string, q float64) ([][]float64, Rung, error) {
	audio, rung, err := f.synthetic.Rendering(m, q)
	if f.rendering != nil && err == nil && (f.only == "" || f.only == m) {
		return f.rendering(audio, rung)
	}
	return audio, rung, err
}

func TestLadderRefusesBadClips(t *testing.T) {
	broken := errors.New("no such stage")
	for want, clips := range map[string]faulty{
		"rate":     {rate: 100},
		"channels": {reference: func(a [][]float64) [][]float64 { return nil }},
		"s long":   {reference: func(a [][]float64) [][]float64 { return [][]float64{a[0][:10]} }},
		"frames":   {reference: func(a [][]float64) [][]float64 { return [][]float64{a[0], a[1][:1900]} }},
		"size":     {rendering: func(a [][]float64, r Rung) ([][]float64, Rung, error) { return a[:1], r, nil }},
		"no such":  {rendering: func([][]float64, Rung) ([][]float64, Rung, error) { return nil, Rung{}, broken }},
		"between":  {rendering: func(a [][]float64, r Rung) ([][]float64, Rung, error) { r.Residual = -40; return a, r, nil }},
		"bias of":  {rendering: func(a [][]float64, r Rung) ([][]float64, Rung, error) { r.Bias = math.Inf(1); return a, r, nil }},
		"residual o": {rendering: func(a [][]float64, r Rung) ([][]float64, Rung, error) {
			r.Residual = level.DB(math.NaN())
			return a, r, nil
		}},
	} {
		clips.synthetic = shortClips()
		if err := newLadder(t, clips).prepare(Defaults(Adaptive)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v", want, err)
		}
	}
}

func testSpool(t *testing.T) *spool {
	p := &spool{}
	t.Cleanup(func() { p.close() })
	return p
}

// What goes into the spool comes out of it, of any channel from any frame.
func TestSpool(t *testing.T) {
	p := testSpool(t)
	for n := range 3 {
		audio := [][]float64{{1, 2, 3, float64(n)}, {-1, -2, -3, -4}}
		s, err := p.put(audio)
		must(t, err)
		got := make([]float32, 3)
		for channel := range audio {
			must(t, s.read(got, channel, 1))
			for i, v := range got {
				if float64(v) != audio[channel][1+i] {
					t.Errorf("clip %d, channel %d: %v", n, channel, got)
				}
			}
		}
	}
}

// The dither is triangular, two steps wide and free of bias: its mean square is
// (1/6 + 1/12) steps for any input (Lipshitz, Wannamaker and Vanderkooy, JAES
// 40:355, 1992: the total error of triangular dither has the variance 1/4).
func TestClipDither(t *testing.T) {
	const n = 200_000
	in := make([]float32, n)
	for i := range in {
		in[i] = float32(math.Sin(float64(i)) * 0.7)
	}
	bytes := quantise(nil, in, 1, newDither(9))
	sum, square := 0.0, 0.0
	for i, x := range in {
		v := int32(bytes[3*i]) | int32(bytes[3*i+1])<<8 | int32(int8(bytes[3*i+2]))<<16
		e := float64(v) - float64(x)*fullScale
		sum += e
		square += e * e
	}
	if mean := sum / n; math.Abs(mean) > 0.006 {
		t.Errorf("bias of %g steps", mean)
	}
	if v := square / n; math.Abs(v-0.25) > 0.005 {
		t.Errorf("error variance %g steps², want 1/4", v)
	}
	for _, x := range []float32{2, -2} {
		b := quantise(nil, []float32{x}, 1, newDither(1))
		if v := int32(b[0]) | int32(b[1])<<8 | int32(int8(b[2]))<<16; v != fullScale-1 && v != -fullScale {
			t.Errorf("%g becomes %d", x, v)
		}
	}
}
