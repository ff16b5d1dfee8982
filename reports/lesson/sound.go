package lesson

import (
	"context"
	"encoding/json"
	"io"
	"math"

	"quietcross/corpus/render"
	"quietcross/corpus/signal"
	"quietcross/dsp/level"
	"quietcross/stage"
)

// rate is the sampling rate of all sounds, Hz.
const rate = 48000

// Levels at which steps are heard, dB re the drive, and that of the ladder.
const (
	loud   level.DB = -3
	quiet  level.DB = -20
	hushed level.DB = -30
)

// faint is the softest level that the text speaks of.
const faint level.DB = -40

// toneHertz makes a whole number of cycles in toneSeconds, so that the tone loops
// without a seam.
const (
	toneHertz   = 330
	toneSeconds = 1
)

// inputs are the sounds that go into every step, full scale 1.
type inputs struct{ tone, music []float64 }

func newInputs(seconds float64, seed uint64) (inputs, error) {
	in := inputs{tone: make([]float64, toneSeconds*rate)}
	for i := range in.tone {
		in.tone[i] = 0.9 * math.Sin(2*math.Pi*toneHertz*float64(i)/rate)
	}
	var err error
	in.music, err = excerpt("struck-string", 0.4, seconds, seed)
	return in, err
}

// fadeSeconds is the length of the fades that let an excerpt loop.
const fadeSeconds = 0.05

// excerpt is a stretch of the first channel of a built-in piece, faded at both
// ends.
func excerpt(name string, from, seconds float64, seed uint64) ([]float64, error) {
	m, err := signal.Lookup(name)
	if err != nil {
		return nil, err
	}
	audio, err := m.Generate(rate, seed)
	if err != nil {
		return nil, err
	}
	first := int(from * rate)
	x := append([]float64(nil), audio[0][first:min(first+int(seconds*rate), len(audio[0]))]...)
	n := int(fadeSeconds * rate)
	for i := range n {
		fade := 0.5 - 0.5*math.Cos(math.Pi*float64(i)/float64(n))
		x[i] *= fade
		x[len(x)-1-i] *= fade
	}
	top := level.Peak(x)
	for i := range x {
		x[i] *= 0.9 / top
	}
	return x, nil
}

// track is a sound as the page holds it: 16-bit samples, little-endian, written as
// base64, and the value of one count.
type track struct {
	Scale float64 `json:"scale"`
	PCM   []byte  `json:"pcm"`
}

// fullCount is the count of a track's strongest sample.
const fullCount = 32760

func newTrack(x []float64) track {
	t := track{Scale: level.Peak(x) / fullCount, PCM: make([]byte, 0, 2*len(x))}
	for _, v := range x {
		count := 0.0
		if t.Scale > 0 {
			count = math.Round(v / t.Scale)
		}
		n := uint16(int16(count))
		t.PCM = append(t.PCM, byte(n), byte(n>>8))
	}
	return t
}

// writeTracks writes tracks as a JSON array.
func writeTracks(w io.Writer, tracks []track) error { return json.NewEncoder(w).Encode(tracks) }

// through renders a sound through a stage at a level and turns it up again by the
// same amount.
func through(ctx context.Context, b *render.Bench, x []float64, l level.DB, s stage.Setting) ([]float64, error) {
	clip, err := b.Render(ctx, [][]float64{x}, rate, l, s)
	if err != nil {
		return nil, err
	}
	return turnedUp(clip.Output[0], l), nil
}

// turnedUp returns a copy of a sound of level l, brought to level 0 and held
// within full scale.
func turnedUp(x []float64, l level.DB) []float64 {
	gain := (-l).Amplitude()
	if top := level.Peak(x) * gain; top > 1 {
		gain /= top
	}
	y := make([]float64, len(x))
	for i, v := range x {
		y[i] = gain * v
	}
	return y
}

// throughTone renders the tone in its steady state: three times round, of which
// the middle is kept.
func throughTone(ctx context.Context, b *render.Bench, x []float64, l level.DB, s stage.Setting) ([]float64, error) {
	long := append(append(append([]float64(nil), x...), x...), x...)
	y, err := through(ctx, b, long, l, s)
	if err != nil {
		return nil, err
	}
	return y[len(x) : 2*len(x)], nil
}
