package audibility

import (
	"context"
	"encoding/json"
	"math"
	"testing"

	"quietcross/dsp/level"
)

// pair is an exponential pair without emitter resistors that drives a load: the
// load current i flows at vi - vo = VT asinh(i/2I), vo = i·load (from
// iN iP = I² and iN - iP = i; Sedra and Smith, Microelectronic Circuits, class AB). It returns vi and the incremental gain for an output.
func pair(vo, quiescent, load float64) (vi, gain float64) {
	const thermal = 0.02585
	x := vo / load / (2 * quiescent)
	resistance := thermal / (2 * quiescent) / math.Sqrt(1+x*x)
	return vo + thermal*math.Asinh(x), load / (load + resistance)
}

// throughPair solves the pair for one input by Newton's method.
func throughPair(vi, quiescent, load float64) float64 {
	vo := vi
	for range 100 {
		at, gain := pair(vo, quiescent, load)
		step := (vi - at) * gain
		vo += max(-0.05, min(0.05, step))
		if math.Abs(step) < 1e-15 {
			break
		}
	}
	return vo
}

// biased is a note through the pair at a drive of 10 V peak for full scale into
// 8 ohm, its best-fitting gain taken out, with the distortion as its number.
func biased(l level.DB) Case {
	return Case{Material: "note", Level: l, Open: func(context.Context) ([][]float64, Render, error) {
		const drive, load = 10.0, 8.0
		ref := note(0.5, 0.5*l.Amplitude(), 330)
		return [][]float64{ref}, func(_ context.Context, quiescent float64) (Rendering, error) {
			test := make([]float64, len(ref))
			var cross, own, error float64
			for i, x := range ref {
				test[i] = throughPair(x*drive, quiescent, load) / drive
				cross += test[i] * x
				own += x * x
			}
			for i, x := range ref {
				test[i] *= own / cross
				error += (test[i] - x) * (test[i] - x)
			}
			return Rendering{
				Test:    [][]float64{test},
				Bias:    2 * 0.02585 * math.Log(quiescent/1e-13),
				Numbers: map[string]float64{"thd": math.Sqrt(error / own), "constant": 1, "none": math.NaN()},
			}, nil
		}, nil
	}}
}

// For a stage whose only fault is crossover, more current is less distortion:
// the probability must fall throughout, from certainty to nothing, and plain
// distortion must rank as the prediction does.
func TestCrossoverOfAnIdealPair(t *testing.T) {
	o := DefaultOptions(1e-4, 10)
	cases := []Case{biased(-10), biased(-30)}
	findings, err := Run(t.Context(), cases, o)
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range findings {
		first, last := f.Curve[0], f.Curve[len(f.Curve)-1]
		if first.Detection < 0.9 || last.Detection > 0.01 || len(f.Crossings) != 1 || len(f.Rises) != 0 {
			t.Errorf("%g dB: from %g to %g, crossings %+v, rises %+v", float64(f.Level), first.Detection, last.Detection, f.Crossings, f.Rises)
		}
		if first.When.Passage != FirstSecond || last.When.Passage != Nowhere {
			t.Errorf("%g dB: heard %s and %s", float64(f.Level), first.When.Passage, last.When.Passage)
		}
		if len(f.Correlations) != 1 || f.Correlations[0].Number != "thd" || f.Correlations[0].Points != len(f.Curve) || f.Correlations[0].Rank < 0.99 {
			t.Errorf("%g dB: correlations %+v", float64(f.Level), f.Correlations)
		}
	}
	if pooled := Pool(findings); len(pooled) != 1 || pooled[0].Points != len(findings[0].Curve)+len(findings[1].Curve) {
		t.Errorf("pooled %+v", pooled)
	}
}

// Silence has nothing to hear and nothing to correlate.
func TestSilence(t *testing.T) {
	silence := [][]float64{make([]float64, 48000), make([]float64, 48000)}
	c := Case{Material: "silence", Open: func(context.Context) ([][]float64, Render, error) {
		return silence, func(context.Context, float64) (Rendering, error) { return Rendering{Test: silence}, nil }, nil
	}}
	o := DefaultOptions(1, 2)
	f := examined(t, c, o)
	for _, p := range f.Curve {
		if p.Detection != 0 || p.When.Passage != Nowhere || p.DPrime != 0 || p.Strongest.Frequency != 0 {
			t.Errorf("%+v", p)
		}
	}
	if _, err := json.Marshal(f); err != nil || len(f.Curve) != 4 {
		t.Errorf("%d points, %v", len(f.Curve), err)
	}
}

// A grid has a row a level, loudest first, and a column a current.
func TestGrids(t *testing.T) {
	o := DefaultOptions(1e-4, 10)
	other := faulty(func(i float64) bool { return i < 1e-2 })
	other.Material = "other"
	soft := faulty(func(i float64) bool { return i < 1 })
	soft.Level = -60
	findings, err := Run(t.Context(), []Case{soft, other, faulty(func(i float64) bool { return i < 1e-3 })}, o)
	if err != nil {
		t.Fatal(err)
	}
	grids, err := Grids(findings, o)
	if err != nil {
		t.Fatal(err)
	}
	if len(grids) != 2 || grids[0].Material != "note" || grids[1].Material != "other" {
		t.Fatalf("grids %+v", grids)
	}
	g := grids[0]
	if len(g.Quiescent) != 27 || len(g.Levels) != 2 || g.Levels[0] != -20 || g.Levels[1] != -60 {
		t.Fatalf("grid %+v", g)
	}
	// Columns are 0 and 0.1 mA to 10 A, five a decade: 0.63 mA and 0.63 A are the last
	// that are heard.
	for row, ends := range []int{6, 21} {
		for column, cell := range g.Cells[row] {
			if !cell.Known || (cell.Detection > 0.5) != (column < ends) {
				t.Errorf("row %d, column %d: %+v", row, column, cell)
			}
		}
		if g.Thresholds[row] == nil {
			t.Errorf("row %d has no threshold", row)
		}
	}
}
