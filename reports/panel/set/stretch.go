package set

import (
	"errors"
	"io"

	"quietcross/corpus"
	"quietcross/dsp/planar"
)

// Items up to longest are offered whole; of longer ones the stretch of stretch
// seconds in which what bias does stands out most.
const (
	longest = 30 // s
	stretch = 12 // s
)

// quietest is the power of a second, re the loudest, under which it counts as
// this quiet: a stretch of silence is not chosen for its ratio.
const quietest = 1e-5

// stretch returns the frames of an item that listeners hear.
func (c *Clips) stretch(item *corpus.Item) (from, frames int64, err error) {
	second := int64(item.Rate)
	if item.Frames <= longest*second {
		return 0, item.Frames, nil
	}
	signal, err := c.powers(item, item.Reference.File)
	if err != nil {
		return 0, 0, err
	}
	residual, err := c.powers(item, strongest(item).Residual.File)
	if err != nil {
		return 0, 0, err
	}
	return int64(mostTelling(signal, residual)) * second, stretch * second, nil
}

// strongest returns the rendering with the strongest residual among those that
// let the programme through.
func strongest(item *corpus.Item) *corpus.Rendering {
	best := &item.Renderings[0]
	for i := range item.Renderings {
		if r := &item.Renderings[i]; best.Residual.Level >= 0 || r.Residual.Level < 0 && r.Residual.Level > best.Residual.Level {
			best = r
		}
	}
	return best
}

// powers returns the power of every whole second of a track.
func (c *Clips) powers(item *corpus.Item, file string) ([]float64, error) {
	reader, err := c.set.Open(file)
	if err != nil {
		return nil, err
	}
	defer reader.Close()
	block := planar.New(item.Channels, item.Rate)
	var powers []float64
	for {
		n, err := reader.Read(block)
		if errors.Is(err, io.EOF) || err == nil && n < item.Rate {
			return powers, nil
		}
		if err != nil {
			return nil, err
		}
		power := 0.0
		for _, channel := range block {
			for _, v := range channel {
				power += v * v
			}
		}
		powers = append(powers, power)
	}
}

// mostTelling returns the second at which the stretch begins whose residual is
// strongest against its signal.
func mostTelling(signal, residual []float64) int {
	floor := 0.0
	for _, p := range signal {
		floor = max(floor, quietest*p)
	}
	best, at := -1.0, 0
	for from := 0; from+stretch <= min(len(signal), len(residual)); from++ {
		sum := 0.0
		for s := from; s < from+stretch; s++ {
			sum += residual[s] / max(signal[s], floor)
		}
		if sum > best {
			best, at = sum, from
		}
	}
	return at
}
