package render

import (
	"math"
	"path/filepath"
	"reflect"
	"testing"

	"golang.org/x/sync/errgroup"

	"quietcross/corpus/signal"
	"quietcross/dsp/level"
	"quietcross/dsp/wave"
	"quietcross/stage"
)

// TestBenchAgainstFiles renders the same piece in memory and into files.
func TestBenchAgainstFiles(t *testing.T) {
	m, err := signal.Lookup("quiet-chord")
	if err != nil {
		t.Fatal(err)
	}
	setting := stage.Quiescent(2e-3)
	o := Options{
		Spec: demoSpec(t), Settings: []stage.Setting{setting}, Levels: []level.DB{-12},
		Format: &wave.Format{Encoding: wave.Float, Bits: 32},
	}
	dir, manifest := run(t, []Source{Material{Material: m, Rate: 48000, Seed: 1}}, o)
	item, want := manifest.Items[0], manifest.Items[0].Renderings[0]

	bench, err := NewBench(o)
	if err != nil {
		t.Fatal(err)
	}
	audio, err := m.Generate(48000, 1)
	if err != nil {
		t.Fatal(err)
	}
	clip, err := bench.Render(t.Context(), audio, 48000, -12, setting)
	if err != nil {
		t.Fatal(err)
	}
	// The bench's law is the finer one; see renderTolerance.
	if math.Abs(float64(clip.Applied-want.Applied)) > 1e-6 || math.Abs(clip.Gain-want.Gain) > 1e-7 || math.Abs(float64(clip.Residual-want.Residual.Level)) > 1e-6 {
		t.Errorf("clip: applied %v, gain %v, residual %v; the set says %v, %v, %v",
			clip.Applied, clip.Gain, clip.Residual, want.Applied, want.Gain, want.Residual.Level)
	}
	for file, got := range map[string][][]float64{item.Reference.File: clip.Reference, want.File: clip.Output} {
		_, audio, err := wave.ReadFile(filepath.Join(dir, filepath.FromSlash(file)))
		if err != nil {
			t.Fatal(err)
		}
		for c := range audio {
			for n, v := range audio[c] {
				if math.Abs(v-got[c][n]) > 1e-7 {
					t.Fatalf("%s: channel %d frame %d: %g in memory, %g in the file", file, c, n, got[c][n], v)
				}
			}
		}
	}
}

// TestRaisedLetsGo keeps what was rendered last, as much as fits, and nothing too long.
func TestRaisedLetsGo(t *testing.T) {
	r := newRaised(1)
	half := func() [][]float64 { return [][]float64{make([]float64, raisedBytes/16)} }
	a, b, c := &Piece{}, &Piece{}, &Piece{}
	r.keep(a, half())
	r.keep(b, half())
	r.of(a) // now b has waited longest
	r.keep(c, half())
	if r.of(a) == nil || r.of(b) != nil || r.of(c) == nil {
		t.Error("not the two rendered last are kept")
	}
	if !r.fits(raisedBytes/8) || r.fits(raisedBytes/8+1) {
		t.Error("what fits is not what there is room for")
	}
}

// TestPieceKeepsItsReference renders a piece through a circuit in time at several
// settings, side by side too: every clip is what the bench renders of it alone.
func TestPieceKeepsItsReference(t *testing.T) {
	bench := benchOf(t, "pair-12w-speaker", MatchLoudness)
	audio := [][]float64{sine(1000, 0.9, 5000), sine(300, 0.5, 5000)}
	piece := bench.Piece(audio, 48000, -6)
	settings := []stage.Setting{stage.AsBuilt(), stage.Bias(1.1), stage.Bias(1.3)}
	var group errgroup.Group
	for _, setting := range settings {
		group.Go(func() error {
			for range 3 {
				clip, err := piece.Render(t.Context(), setting)
				if err != nil {
					return err
				}
				alone, err := bench.Render(t.Context(), audio, 48000, -6, setting)
				if err != nil {
					return err
				}
				if !reflect.DeepEqual(clip, alone) {
					t.Errorf("%v: the piece's clip is not the bench's", setting)
				}
			}
			return nil
		})
	}
	if err := group.Wait(); err != nil {
		t.Fatal(err)
	}
}

// The reference alone is that of a clip, rendered before or after it.
func TestReferenceOfAPiece(t *testing.T) {
	bench := benchOf(t, "pair-12w-speaker", MatchGain)
	audio := [][]float64{sine(1000, 0.9, 20000), sine(300, 0.5, 20000)}
	alone, err := bench.Piece(audio, 48000, -6).Reference(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	piece := bench.Piece(audio, 48000, -6)
	clip, err := piece.Render(t.Context(), stage.AsBuilt())
	if err != nil {
		t.Fatal(err)
	}
	after, err := piece.Reference(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(alone, clip.Reference) || !reflect.DeepEqual(after, clip.Reference) {
		t.Error("the reference alone is not the clip's")
	}
	if _, err := bench.Piece(nil, 48000, 0).Reference(t.Context()); err == nil {
		t.Error("a reference of no audio")
	}
	if _, err := bench.Piece([][]float64{{}}, 48000, 0).Render(t.Context(), stage.AsBuilt()); err == nil {
		t.Error("a clip of no audio")
	}
}
