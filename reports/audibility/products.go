package audibility

import (
	"context"
	"slices"

	"quietcross/dsp/bs1387"
	"quietcross/dsp/level"
)

// Products lists what a case's rendering at a current adds that stands above both
// the absolute threshold of hearing and the masking of the programme, those
// furthest above the nearer of the two first, at most most of them. playback is
// the level of a full-scale sine at the listener, dB SPL.
func (c Case) Products(ctx context.Context, quiescent float64, playback level.DB, most int) ([]bs1387.Product, error) {
	audio, render, err := c.Open(ctx)
	if err != nil {
		return nil, err
	}
	r, err := render(ctx, quiescent)
	if err != nil {
		return nil, err
	}
	p, err := bs1387.NewProducts(bs1387.Config{Rate: earRate, PlaybackSPL: playback, Channels: len(audio)})
	if err != nil {
		return nil, err
	}
	p.Add(audio, r.Test)
	list, _ := p.List() // what was dropped stood out less than what is kept
	slices.SortStableFunc(list, func(a, b bs1387.Product) int {
		switch over := min(a.OverThreshold, a.OverMask) - min(b.OverThreshold, b.OverMask); {
		case over > 0:
			return -1
		case over < 0:
			return 1
		}
		return 0
	})
	return list[:min(len(list), most)], nil
}
