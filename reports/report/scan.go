package report

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"

	"quietcross/corpus"
	"quietcross/dsp/planar"
	"quietcross/dsp/wave"
)

// track opens files of one item and checks that they are what the manifest
// says.
type track struct {
	dir  string
	item *corpus.Item
}

func (t track) open(file string) (*wave.Reader, error) {
	path := filepath.Join(t.dir, filepath.FromSlash(file))
	r, err := wave.Open(path)
	if err != nil {
		return nil, err
	}
	f := r.Format()
	if f.Channels != t.item.Channels || f.Rate != t.item.Rate || r.Frames() != t.item.Frames {
		r.Close()
		return nil, fmt.Errorf("%s: found %d channels, %d Hz, %d frames; the manifest says %d, %d Hz, %d",
			path, f.Channels, f.Rate, r.Frames(), t.item.Channels, t.item.Rate, t.item.Frames)
	}
	return r, nil
}

// scan streams a whole file, all channels, block by block, until the context is
// done or use fails.
func (t track) scan(ctx context.Context, file string, use func(block [][]float64) error) error {
	r, err := t.open(file)
	if err != nil {
		return err
	}
	defer r.Close()
	return planar.Each(r, t.item.Channels, func(block planar.Audio) error {
		if err := use(block); err != nil {
			return err
		}
		return ctx.Err()
	})
}

// fill reads the next frames of a file until a block is full.
func fill(r *wave.Reader, block planar.Audio) error {
	for n := 0; n < block.Frames(); {
		read, err := r.Read(block.Cut(n, block.Frames()))
		if n += read; err != nil && n < block.Frames() {
			return err
		}
	}
	return nil
}

// stretch reads n frames of one channel from a frame on; what lies outside the
// file is silence.
func (t track) stretch(file string, channel int, from, n int64) ([]float64, error) {
	r, err := t.open(file)
	if err != nil {
		return nil, err
	}
	defer r.Close()
	planes := planar.New(t.item.Channels, int(n))
	lo := min(max(from, 0), r.Frames())
	hi := min(max(from+n, lo), r.Frames())
	if lo == hi {
		return planes[channel], nil
	}
	if err := r.SeekFrame(lo); err != nil {
		return nil, err
	}
	if _, err := r.Read(planes.Cut(int(lo-from), int(hi-from))); err != nil && !errors.Is(err, io.EOF) {
		return nil, err
	}
	return planes[channel], nil
}
