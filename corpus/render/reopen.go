package render

import (
	"fmt"
	"os"
	"path/filepath"

	"quietcross/corpus"
	"quietcross/dsp/level"
	"quietcross/dsp/planar"
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
		Spec: spec, Drive: &m.Drive, Levels: []level.DB{0}, Match: Match(m.Match),
		Solver: Solver(m.Solver), Oversample: m.Oversample,
	})
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return &Reopened{Manifest: m, Bench: bench, dir: dir}, nil
}

// Source returns a stretch of an item's stage input, planar, full scale being the
// drive: its reference track without the trim that all tracks of the item share.
func (r *Reopened) Source(item *corpus.Item, from, frames int64) ([][]float64, error) {
	reader, err := r.Open(item.Reference.File)
	if err != nil {
		return nil, err
	}
	defer reader.Close()
	if err := reader.SeekFrame(from); err != nil {
		return nil, err
	}
	audio := planar.New(item.Channels, int(frames))
	for at := 0; at < int(frames); {
		n, err := reader.Read(audio.Cut(at, int(frames)))
		if err != nil {
			return nil, fmt.Errorf("%s: %w", item.Reference.File, err)
		}
		at += n
	}
	scale(audio, (-item.Trim).Amplitude())
	return audio, nil
}

// Open opens one of the set's tracks.
func (r *Reopened) Open(file string) (*wave.Reader, error) {
	return wave.Open(filepath.Join(r.dir, filepath.FromSlash(file)))
}
