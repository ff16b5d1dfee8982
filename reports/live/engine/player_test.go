package engine

import (
	"math"
	"testing"

	"quietcross/corpus/render"
	"quietcross/dsp/level"
	"quietcross/stage"
)

// solve solves a built-in stage at a setting, at its own drive.
func solve(t testing.TB, name, mode string, value float64, l level.DB, quick bool) (*Solution, *Sheet) {
	t.Helper()
	s := &Solver{}
	sheet, err := s.Describe(name)
	if err != nil {
		t.Fatal(err)
	}
	solution, err := s.Solve(Request{
		File: sheet.File, Load: sheet.Load, Ambient: sheet.Ambient, Mode: mode, Value: value,
		Drive: sheet.Drive, Level: l, Quick: quick,
	})
	if err != nil {
		t.Fatal(err)
	}
	return solution, sheet
}

// music is two seconds of two channels: tones that do not fit the rate, swelling.
func music(rate int, peak float64) [][]float32 {
	audio := make([][]float32, 2)
	for c, parts := range [][]float64{{113.7, 571.3, 3301.9}, {161.9, 997.7, 7013.3}} {
		audio[c] = make([]float32, 2*rate)
		for i := range audio[c] {
			at := float64(i) / float64(rate)
			swell := 0.55 - 0.45*math.Cos(2*math.Pi*at*0.7+float64(c))
			v := 0.0
			for k, hertz := range parts {
				v += math.Sin(2*math.Pi*hertz*at+float64(k)) / float64(len(parts))
			}
			audio[c][i] = float32(peak * swell * v)
		}
	}
	return audio
}

// double widens planar audio.
func double(audio [][]float32) [][]float64 {
	wide := make([][]float64, len(audio))
	for c, x := range audio {
		for _, v := range x {
			wide[c] = append(wide[c], float64(v))
		}
	}
	return wide
}

// apart returns the maximum difference of two recordings re full scale.
func apart(t *testing.T, a [][]float32, b [][]float64) level.DB {
	t.Helper()
	worst := 0.0
	for c := range a {
		if len(a[c]) != len(b[c]) {
			t.Fatalf("%d frames, want %d", len(a[c]), len(b[c]))
		}
		for i, v := range a[c] {
			worst = max(worst, math.Abs(float64(v)-b[c][i]))
		}
	}
	return level.FromAmplitude(worst)
}

func record(t testing.TB, audio [][]float32, s *Solution, drive float64, c Controls) [][]float32 {
	t.Helper()
	out, err := Record(audio, 48000, s.Law, drive, c, func(float64) bool { return true })
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// TestLikeRender holds what the page plays to what the render package makes of the
// same audio: the bar is -140 dB re full scale.
func TestLikeRender(t *testing.T) {
	audio := music(48000, 0.9)
	for _, c := range []struct {
		stage   string
		setting stage.Setting
		mode    string
		value   float64
		level   level.DB
	}{
		{"pair-12w", stage.Bias(0), "bias", 0, 0},
		{"pair-12w", stage.Bias(1.2), "bias", 1.2, -20},
		{"pair-12w", stage.AsBuilt(), "as-built", 0, 6},
		{"darlington-30w", stage.AsBuilt(), "as-built", 0, -3},
	} {
		spec, err := stage.Lookup(c.stage)
		if err != nil {
			t.Fatal(err)
		}
		bench, err := render.NewBench(render.Options{Spec: spec, Levels: []level.DB{c.level}, Match: render.MatchOff, Solver: render.SolverStatic})
		if err != nil {
			t.Fatal(err)
		}
		want, err := bench.Render(t.Context(), double(audio), 48000, c.level, c.setting)
		if err != nil {
			t.Fatal(err)
		}
		solution, sheet := solve(t, c.stage, c.mode, c.value, c.level, false)
		got := record(t, audio, solution, sheet.Drive, Controls{Level: c.level, Monitor: Output})
		if c.level <= 0 {
			d := apart(t, got, want.Output)
			t.Logf("%s at %s, %g dB: output %.1f dB re full scale apart", c.stage, c.setting, float64(c.level), float64(d))
			if d > -140 {
				t.Errorf("%s at %s: output %.1f dB apart", c.stage, c.setting, float64(d))
			}
		}
		ref := record(t, audio, solution, sheet.Drive, Controls{Level: c.level, Monitor: Reference})
		if c.level <= 0 {
			if d := apart(t, ref, want.Reference); d > -140 {
				t.Errorf("%s at %s: reference %.1f dB apart", c.stage, c.setting, float64(d))
			}
		}
	}
}
