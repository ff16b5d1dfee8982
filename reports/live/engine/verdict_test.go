package engine

import (
	"math"
	"testing"

	"quietcross/corpus/render"
	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/dsp/shape"
	"quietcross/stage"
)

// TestPredict holds the prediction to one of an independent rendering of the same music by
// the render command's own route, matched in loudness: unbiased, faintly biased and biased.
func TestPredict(t *testing.T) {
	audio, err := Generate("soft-wind", 48000, 1)
	if err != nil {
		t.Fatal(err)
	}
	part := [][]float32{audio[0][2*48000 : 5*48000]}
	var s Solver
	sheet, err := s.Describe("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	for _, volts := range []float64{0, 1.2, 1.4} {
		solution, err := s.Solve(Request{File: sheet.File, Load: sheet.Load, Ambient: sheet.Ambient, Mode: "bias", Value: volts, Drive: sheet.Drive})
		if err != nil {
			t.Fatal(err)
		}
		c := Controls{Level: -6, Match: true, Monitor: Output}
		got, err := Predict(part, 48000, solution.Law, sheet.Drive, c, hearing.DefaultConditions(), func(float64) bool { return true })
		if err != nil {
			t.Fatal(err)
		}
		bench, err := render.NewBench(render.Options{Spec: spec, Levels: []level.DB{-6}, Match: render.MatchLoudness, Solver: render.SolverStatic})
		if err != nil {
			t.Fatal(err)
		}
		clip, err := bench.Render(t.Context(), wide(part), 48000, -6, stage.Bias(volts))
		if err != nil {
			t.Fatal(err)
		}
		reference, err := hearing.NewReference(hearing.DefaultConditions().Config(48000, 1), clip.Reference)
		if err != nil {
			t.Fatal(err)
		}
		result := reference.Compare(clip.Output)
		want := hearing.Detection(result.DPrime)
		t.Logf("%g V: detection %.4f, rendered apart %.4f; %.3f LU from the music; residual %.4f", volts, got.Detection, want, float64(got.Apart), got.Residual)
		if math.Abs(got.Detection-want) > 0.02 || math.Abs(float64(got.Apart)) > 0.02 || got.Silent {
			t.Errorf("%g V: detection %.4f, rendered apart %.4f; %.3f LU from the music", volts, got.Detection, want, float64(got.Apart))
		}
	}
	if _, err := Predict(part, 8000, mustLaw(t, &s, sheet), sheet.Drive, Controls{Monitor: Output}, hearing.DefaultConditions(), func(float64) bool { return true }); err == nil {
		t.Error("a rate that the ear model does not take was taken")
	}
}

func mustLaw(t *testing.T, s *Solver, sheet *Sheet) *shape.Law {
	t.Helper()
	solution, err := s.Solve(Request{File: sheet.File, Load: sheet.Load, Ambient: sheet.Ambient, Mode: "as-built", Drive: sheet.Drive, Quick: true})
	if err != nil {
		t.Fatal(err)
	}
	return solution.Law
}
