// Package set brings a rendered set to the listening panel: it renders the
// set's items at whatever bias the next trial asks for.
package set

import (
	"context"
	"fmt"
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
	lo, hi float64 // quiescent currents, A
	items  map[string]*item
	names  []string
}

// An item is one source at one level, read when it is first asked for.
type item struct {
	*corpus.Item
	once      sync.Once
	piece     *render.Piece
	reference [][]float64
	err       error
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
	c := &Clips{set: set, lo: minimumBias * optimum, hi: maximumBias * optimum, items: map[string]*item{}}
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

// Reference implements [server.Clips].
func (c *Clips) Reference(material string) (rate int, audio [][]float64, err error) {
	it, err := c.item(material)
	if err != nil {
		return 0, nil, err
	}
	return it.Rate, it.reference, nil
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

// item returns an item with its source and reference read.
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
		clip, err := it.piece.Render(context.Background(), stage.Quiescent(c.hi))
		if err != nil {
			it.err = err
			return
		}
		it.reference = clip.Reference
	})
	return it, it.err
}
