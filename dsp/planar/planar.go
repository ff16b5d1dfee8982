// Package planar holds audio as one slice of samples a channel, all of one length,
// and reads streams of it block by block. Every signal package takes and gives
// plain [][]float64, to which [Audio] converts by itself.
package planar

import (
	"errors"
	"io"
)

// Audio is indexed [channel][frame]. Full scale is 1.0 unless its owner says
// otherwise.
type Audio [][]float64

// New returns silence.
func New(channels, frames int) Audio {
	a := make(Audio, channels)
	for c := range a {
		a[c] = make([]float64, frames)
	}
	return a
}

// Frames returns the length of each channel; 0 without channels.
func (a Audio) Frames() int {
	if len(a) == 0 {
		return 0
	}
	return len(a[0])
}

// Cut returns the frames from up to, not including, to of every channel, sharing
// memory. It panics where a slice expression of those bounds would.
func (a Audio) Cut(from, to int) Audio { return a.CutInto(nil, from, to) }

// CutInto is Cut into dst, which is overwritten and allocates only when it holds
// fewer channels.
func (a Audio) CutInto(dst Audio, from, to int) Audio {
	dst = dst[:0]
	for _, channel := range a {
		dst = append(dst, channel[from:to])
	}
	return dst
}

// A Reader fills dst, one slice a channel and all of one length, with the next
// frames and returns how many it delivered; io.EOF follows the last.
type Reader interface {
	Read(dst [][]float64) (int, error)
}

// blockFrames is how much of a stream is held at a time.
const blockFrames = 1 << 14

// Each calls use with one block of a stream after the other, until it ends or use
// returns an error. Only the last block may be shorter than the rest. A block is
// valid until use returns, which may change it.
func Each(r Reader, channels int, use func(Audio) error) error {
	block, part := New(channels, blockFrames), make(Audio, channels)
	for {
		n, err := r.Read(block)
		if n > 0 {
			if err := use(block.CutInto(part, 0, n)); err != nil {
				return err
			}
		}
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
	}
}

// ReadAll reads a stream to its end. The caller bounds its length first.
func ReadAll(r Reader, channels int) (Audio, error) {
	all := make(Audio, channels)
	err := Each(r, channels, func(block Audio) error {
		for c := range all {
			all[c] = append(all[c], block[c]...)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return all, nil
}
