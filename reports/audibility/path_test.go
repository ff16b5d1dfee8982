package audibility

import (
	"math"
	"path/filepath"
	"testing"

	"quietcross/corpus/render"
	"quietcross/corpus/signal"
	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/dsp/wave"
	"quietcross/stage"
)

// The whole way: a source, a real stage, the search.

// benchOf renders through a built-in stage.
func benchOf(t testing.TB, name string) *render.Bench {
	t.Helper()
	spec, err := stage.Lookup(name)
	if err != nil {
		t.Fatal(err)
	}
	bench, err := render.NewBench(render.Options{Spec: spec, Levels: []level.DB{0}, Match: render.MatchGain, Solver: render.SolverAuto})
	if err != nil {
		t.Fatal(err)
	}
	return bench
}

func caseOf(t testing.TB, bench *render.Bench, source render.Source, l level.DB) Case {
	t.Helper()
	cases, err := Cases(bench, []render.Source{source}, []level.DB{l}, nil)
	if err != nil {
		t.Fatal(err)
	}
	return cases[0]
}

// toneFile writes two seconds of a note with overtones at a rate and returns its source.
// Its frequencies fit none of the rates.
func toneFile(t testing.TB, rate int) render.Source {
	t.Helper()
	path := filepath.Join(t.TempDir(), "note.wav")
	w, err := wave.Create(path, wave.Format{Rate: rate, Channels: 1, Encoding: wave.Float, Bits: 32}, wave.Options{})
	if err != nil {
		t.Fatal(err)
	}
	x := make([]float64, 2*rate)
	for i := range x {
		s := float64(i) / float64(rate)
		for h := 1.0; h <= 5; h++ {
			x[i] += 0.4 / h * math.Sin(2*math.Pi*331.7*h*s+h) * math.Exp(-1.5*s)
		}
	}
	if err := w.Write([][]float64{x}); err != nil {
		t.Fatal(err)
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return render.File{Path: path}
}

// Through a complementary pair, whose only fault at these levels is crossover, what is
// heard falls as the bias rises to the optimum, rises with the playback level, and is
// less in a noisier room.
func TestHeardThroughAStage(t *testing.T) {
	bench := benchOf(t, "pair-12w")
	optimum := bench.Ladder().Stage().OptimumQuiescent()
	c := caseOf(t, bench, toneFile(t, 48000), -20)
	o := DefaultOptions(0, 0)
	var currents []float64
	for _, part := range []float64{0.003, 0.01, 0.03, 0.1, 0.3, 0.7} {
		currents = append(currents, part*optimum)
	}
	at := func(playback level.DB, room float64) []Point {
		o.Heard.Playback, o.Heard.RoomNR = playback, room
		f, err := ExamineAt(t.Context(), c, currents, o)
		if err != nil || len(f.Curve) != len(currents) {
			t.Fatalf("%v, %+v", err, f)
		}
		return f.Curve
	}
	loud, soft, noisy := at(92, 15), at(72, 15), at(72, 35)
	for i := range currents {
		if i > 0 && !(loud[i].DPrime < loud[i-1].DPrime) {
			t.Errorf("d' %g at %g A, %g at %g A", loud[i-1].DPrime, currents[i-1], loud[i].DPrime, currents[i])
		}
		if !(soft[i].DPrime < loud[i].DPrime && noisy[i].DPrime < soft[i].DPrime) {
			t.Errorf("%g A: d' %g loud, %g soft, %g in a noisy room", currents[i], loud[i].DPrime, soft[i].DPrime, noisy[i].DPrime)
		}
	}
}

// The same sound at three rates has the same threshold, within 2 %.
func TestThresholdAtAnyRate(t *testing.T) {
	bench := benchOf(t, "pair-12w")
	low, high := math.Inf(1), 0.0
	for _, rate := range []int{44100, 48000, 96000} {
		o := DefaultOptions(1e-3, 0.03)
		o.Tolerance = 0.01
		f := examined(t, caseOf(t, bench, toneFile(t, rate), -20), o)
		if f.Threshold == nil {
			t.Fatalf("%d Hz: %s", rate, f.Summary)
		}
		t.Logf("%d Hz: %.5g A", rate, f.Threshold.Quiescent)
		low, high = min(low, f.Threshold.Quiescent), max(high, f.Threshold.Quiescent)
	}
	if high/low > 1.02 {
		t.Errorf("thresholds from %g to %g A", low, high)
	}
}

// A listener of less efficiency has a lower threshold, one of more a higher: the fit of
// a panel reaches the current.
func TestThresholdOfAListener(t *testing.T) {
	c := caseOf(t, benchOf(t, "pair-12w"), toneFile(t, 48000), -20)
	var at []float64
	for _, efficiency := range []level.DB{-6, 0, 6} {
		o := DefaultOptions(1e-3, 0.03)
		o.Heard.Listener = hearing.Efficiency{DB: efficiency, Low: efficiency - 1, High: efficiency + 1, Trials: 150}
		f := examined(t, c, o)
		if f.Threshold == nil {
			t.Fatalf("%g dB: %s", float64(efficiency), f.Summary)
		}
		at = append(at, f.Threshold.Quiescent)
	}
	if !(at[0] < at[1] && at[1] < at[2]) {
		t.Errorf("thresholds %v", at)
	}
}

// The search of one threshold through 13 s of a built-in piece, mono.
func BenchmarkExamine(b *testing.B) {
	bench := benchOf(b, "pair-12w")
	m, err := signal.Lookup("soft-wind")
	if err != nil {
		b.Fatal(err)
	}
	c := caseOf(b, bench, render.Material{Material: m, Rate: 48000, Seed: 1}, -20)
	optimum := bench.Ladder().Stage().OptimumQuiescent()
	for b.Loop() {
		f, err := Examine(b.Context(), c, DefaultOptions(optimum/1e3, 10*optimum))
		if err != nil || f.Threshold == nil {
			b.Fatal(err)
		}
		b.ReportMetric(float64(len(f.Curve)), "renderings")
	}
}
