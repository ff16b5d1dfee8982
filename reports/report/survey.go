package report

import (
	"context"
	"math"

	"quietcross/corpus"
)

// slot is the time over which energies are gathered when looking for where to
// look and listen, as a fraction of a second.
const slot = 20

// excerptSeconds and excerptBytes bound what the page plays of one item: the
// time, and the 16-bit samples of its reference and residuals together.
const (
	excerptSeconds = 15
	excerptBytes   = 24 << 20
)

// survey is what two passes over an item tell about where its distortion is.
type survey struct {
	channel  int       // the loudest of the reference
	worst    int       // rendering with the strongest residual, -1 for none
	energies []float64 // of its residual, a slot each
	slot     int64     // frames
}

// slotFrames is how many frames a slot has.
func slotFrames(rate int) int64 { return max(int64(rate/slot), 1) }

// look surveys an item.
func (t track) look(ctx context.Context) (*survey, error) {
	s := &survey{worst: worstRendering(t.item), slot: slotFrames(t.item.Rate)}
	sums := make([]float64, t.item.Channels)
	err := t.scan(ctx, t.item.Reference.File, func(block [][]float64) error {
		for c, x := range block {
			sums[c] += energy(x)
		}
		return nil
	})
	if err != nil || s.worst < 0 {
		return s, err
	}
	for c, sum := range sums {
		if sum > sums[s.channel] {
			s.channel = c
		}
	}
	var frame int64
	err = t.scan(ctx, t.item.Renderings[s.worst].Residual.File, func(block [][]float64) error {
		for _, v := range block[s.channel] {
			if k := int(frame / s.slot); k == len(s.energies) {
				s.energies = append(s.energies, 0)
			}
			s.energies[len(s.energies)-1] += v * v
			frame++
		}
		return nil
	})
	return s, err
}

func energy(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return sum
}

// worst returns the index of the rendering with the strongest residual, among
// those through which anything passes; -1 when there is none.
func worstRendering(item *corpus.Item) int {
	index, strongest := -1, math.Inf(-1)
	for i, r := range item.Renderings {
		if v := float64(r.Residual.Level); passes(r) && v > strongest {
			index, strongest = i, v
		}
	}
	return index
}

// excerpt chooses the stretch to play: all of a short item, otherwise that in
// which the strongest residual has most energy.
func (s *survey) excerpt(item *corpus.Item) Excerpt {
	tracks := int64(1 + len(item.Renderings))
	frames := min(item.Frames, excerptSeconds*int64(item.Rate), excerptBytes/(2*tracks*int64(item.Channels)))
	if frames >= item.Frames {
		return Excerpt{0, item.Frames}
	}
	slots := int(frames / s.slot)
	if slots == 0 || slots >= len(s.energies) {
		return Excerpt{0, frames}
	}
	sum, best, at := 0.0, math.Inf(-1), 0
	for i, e := range s.energies {
		sum += e
		if i >= slots {
			sum -= s.energies[i-slots]
		}
		if i >= slots-1 && sum > best*(1+1e-9) {
			best, at = sum, i-slots+1
		}
	}
	return Excerpt{min(int64(at)*s.slot, item.Frames-frames), frames}
}

// peak returns the first frame of the slot in which the residual is strongest.
func (s *survey) peak() int64 {
	at := 0
	for i, e := range s.energies {
		if e > s.energies[at] {
			at = i
		}
	}
	return int64(at) * s.slot
}
