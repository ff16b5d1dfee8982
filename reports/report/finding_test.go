package report

import (
	"strings"
	"testing"

	"quietcross/corpus"
	"quietcross/corpus/bias"
	"quietcross/dsp/level"
	"quietcross/stage"
)

// A sentence has to say what its numbers say, in every condition.
func TestSentences(t *testing.T) {
	plain := strings.NewReplacer("\u00a0", " ", "\u2212", "-")
	rung := bias.Rung{Setting: "quiescent", Value: 0.01, Quiescent: 0.01, GainAtZero: 0.888, GainAtSwing: 0.96, ClipLow: -12, ClipHigh: 12}
	r := &Report{Drive: 10, Optimum: 0.1}
	for _, c := range []struct {
		name   string
		change func(*Rung, *Rendering)
		want   string
	}{
		{"under", func(*Rung, *Rendering) {}, "Under-biased: a resting current of 10.0 mA, 0.10 times the optimum; the gain at rest is 7.5 % less than at full swing; what it adds lies 40.0 dB below the programme."},
		{"as built", func(g *Rung, _ *Rendering) { g.Setting = "as-built" }, "As built, under-biased: a resting current of 10.0 mA, 0.10 times the optimum; the gain at rest is 7.5 % less than at full swing; what it adds lies 40.0 dB below the programme."},
		{"optimum", func(g *Rung, _ *Rendering) { g.Condition, g.GainAtZero = stage.AtOptimum, 0.96 }, "At the optimum: a resting current of 10.0 mA; the gain at rest is the same as at full swing; what it adds lies 40.0 dB below the programme."},
		{"clipping", func(g *Rung, _ *Rendering) { g.ClipHigh = 9 }, "Under-biased: a resting current of 10.0 mA, 0.10 times the optimum; the gain at rest is 0.888, and full drive clips; what it adds lies 40.0 dB below the programme."},
		{"blocked", func(_ *Rung, x *Rendering) { x.Gain = 1e-9 }, "Under-biased: a resting current of 10.0 mA, 0.10 times the optimum; the gain at rest is 7.5 % less than at full swing; next to nothing of the programme comes through."},
		{"loud residual", func(_ *Rung, x *Rendering) { x.Residual.Level = 3 }, "Under-biased: a resting current of 10.0 mA, 0.10 times the optimum; the gain at rest is 7.5 % less than at full swing; what it adds lies 3.0 dB above the programme."},
		{"no residual", func(_ *Rung, x *Rendering) { x.Residual.Level = silence }, "Under-biased: a resting current of 10.0 mA, 0.10 times the optimum; the gain at rest is 7.5 % less than at full swing; what it adds to the programme is less than the file can hold."},
		{"half level", func(_ *Rung, x *Rendering) { x.Gain = -0.25 }, "Under-biased: a resting current of 10.0 mA, 0.10 times the optimum; the gain at rest is 7.5 % less than at full swing; what it adds lies 40.0 dB below the programme, and only 25 % of the level gets through. The stage inverts, and so does the file."},
		{"turned back", func(_ *Rung, x *Rendering) { x.Gain, x.Inverted = -5, true }, "Under-biased: a resting current of 10.0 mA, 0.10 times the optimum; the gain at rest is 7.5 % less than at full swing; what it adds lies 40.0 dB below the programme. The stage inverts; the file's polarity is turned back."},
		{"clipped file", func(_ *Rung, x *Rendering) { x.Clipped = 1234 }, "Under-biased: a resting current of 10.0 mA, 0.10 times the optimum; the gain at rest is 7.5 % less than at full swing; what it adds lies 40.0 dB below the programme. 1 234 samples of the file are clipped."},
	} {
		g := Rung{Rung: rung}
		g.Condition = stage.Under
		x := Rendering{Rendering: corpus.Rendering{Gain: 0.95, Residual: corpus.Residual{Level: level.DB(-40)}}}
		c.change(&g, &x)
		r.Rungs = []Rung{g}
		item := &Item{Source: corpus.Source{Kind: "programme"}, Renderings: []Rendering{x}}
		r.find(item)
		if got := plain.Replace(item.Renderings[0].Finding); got != c.want {
			t.Errorf("%s:\n%s\nwant\n%s", c.name, got, c.want)
		}
	}
}
