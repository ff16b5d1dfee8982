// Package set brings a rendered set to the listening panel: it renders the
// set's items at whatever bias the next trial asks for.
package set

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"

	"quietcross/corpus"
	"quietcross/corpus/render"
	"quietcross/reports/panel/server"
	"quietcross/stage"
)

// Clips are the items of a set as [server.Clips]. Materials are named by item, as
// "quiet-chord/-30dB".
type Clips struct {
	set    *render.Reopened
	dir    string
	lo, hi float64 // quiescent currents, A
	items  map[string]*item
	names  []string
}

// An item is one source at one level, read when it is first asked for.
type item struct {
	*corpus.Item
	once  sync.Once
	piece *render.Piece
	err   error
}

// The searchable range in units of the optimum quiescent current: from deep
// under-bias to the optimum, over which the residual falls.
const (
	minimumBias = 1e-3
	maximumBias = 1
)

// Open opens the set in folder dir.
func Open(dir string) (*Clips, error) {
	set, err := render.Reopen(dir)
	if err != nil {
		return nil, err
	}
	optimum := set.Bench.Ladder().Stage().OptimumQuiescent()
	if optimum == 0 {
		return nil, fmt.Errorf("%s: the stage's circuit has no optimum current, so there is no ladder to search", dir)
	}
	c := &Clips{set: set, dir: dir, lo: minimumBias * optimum, hi: maximumBias * optimum, items: map[string]*item{}}
	for i := range set.Manifest.Items {
		it := &set.Manifest.Items[i]
		c.items[it.ID] = &item{Item: it}
		c.names = append(c.names, it.ID)
	}
	return c, nil
}

// Manifest returns the set's manifest.
func (c *Clips) Manifest() *corpus.Manifest { return c.set.Manifest }

// Materials implements [server.Clips].
func (c *Clips) Materials() []string { return c.names }

// Range implements [server.Clips].
func (c *Clips) Range(string) (lo, hi float64) { return c.lo, c.hi }

// Stimulus implements [server.Clips]: the hash of the stage file, of all that the
// manifest says of how the stage acts, and of the item's own samples.
func (c *Clips) Stimulus(material string) (string, error) {
	it, ok := c.items[material]
	if !ok {
		return "", fmt.Errorf("set: no item %q in the set", material)
	}
	m := c.set.Manifest
	hash := sha256.New()
	fmt.Fprintln(hash, m.Circuit, m.Solver, m.Oversample, m.Drive, m.Match, m.Drift, it.Level, it.Trim)
	for _, name := range []string{corpus.StageFile, it.Reference.File} {
		file, err := os.Open(filepath.Join(c.dir, filepath.FromSlash(name)))
		if err != nil {
			return "", err
		}
		_, err = io.Copy(hash, file)
		if err = errors.Join(err, file.Close()); err != nil {
			return "", err
		}
	}
	return hex.EncodeToString(hash.Sum(nil)[:12]), nil
}

// Reference implements [server.Clips].
func (c *Clips) Reference(material string) (rate int, audio [][]float64, err error) {
	it, err := c.item(material)
	if err != nil {
		return 0, nil, err
	}
	clip, err := it.piece.Render(context.Background(), stage.Quiescent(c.hi))
	if err != nil {
		return 0, nil, err
	}
	return it.Rate, clip.Reference, nil
}

// Rendering implements [server.Clips].
func (c *Clips) Rendering(material string, quiescent float64) ([][]float64, server.Rung, error) {
	it, err := c.item(material)
	if err != nil {
		return nil, server.Rung{}, err
	}
	clip, err := it.piece.Render(context.Background(), stage.Quiescent(quiescent))
	if err != nil {
		return nil, server.Rung{}, err
	}
	return clip.Output, server.Rung{
		Quiescent: quiescent, Bias: clip.Rung.Bias, Residual: clip.Residual, Gain: clip.Applied,
	}, nil
}

// item returns an item with its source read.
func (c *Clips) item(material string) (*item, error) {
	it, ok := c.items[material]
	if !ok {
		return nil, fmt.Errorf("set: no item %q in the set", material)
	}
	it.once.Do(func() {
		from, frames, err := c.stretch(it.Item)
		if err != nil {
			it.err = err
			return
		}
		source, err := c.set.Source(it.Item, from, frames)
		if err != nil {
			it.err = err
			return
		}
		it.piece = c.set.Bench.Piece(source, it.Rate, 0)
	})
	return it, it.err
}
