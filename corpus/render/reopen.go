package render

import (
	"fmt"
	"os"
	"path/filepath"

	"quietcross/corpus"
	"quietcross/dsp/level"
	"quietcross/dsp/wave"
	"quietcross/stage"
)

// A Reopened set renders its own items again in memory, at any bias: the
// reference track of an item stands for its source.
type Reopened struct {
	Manifest *corpus.Manifest
	Bench    *Bench
	dir      string
}

// Reopen reads the rendered set in folder dir and makes a bench of its stage,
// drive, matching and solver.
func Reopen(dir string) (*Reopened, error) {
	m, err := corpus.Read(dir)
	if err != nil {
		return nil, err
	}
	path := filepath.Join(dir, corpus.StageFile)
	file, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer file.Close()
	spec, err := stage.Read(file, path)
	if err != nil {
		return nil, err
	}
	bench, err := NewBench(Options{
		Spec: spec, Drive: m.Drive, Levels: []level.DB{0}, Match: Match(m.Match),
		Solver: Solver(m.Solver), Oversample: m.Oversample,
	})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return &Reopened{Manifest: m, Bench: bench, dir: dir}, nil
}

// Source returns an item's stage input, planar, full scale being the drive: its
// reference track without the trim that all tracks of the item share.
func (r *Reopened) Source(item *corpus.Item) ([][]float64, error) {
	_, audio, err := wave.ReadFile(filepath.Join(r.dir, filepath.FromSlash(item.Reference.File)))
	if err != nil {
		return nil, err
	}
	scale(audio, (-item.Trim).Amplitude())
	return audio, nil
}
