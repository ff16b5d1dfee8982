package engine

import (
	"errors"

	"quietcross/dsp/shape"
)

// An ear is a source that comes in while it is played: a microphone or a line. It keeps
// a little of it, so that what comes in bursts goes out evenly; where more comes than
// goes, as when the page was held up, what is oldest is left out.
type ear struct {
	queue  [][]float32
	least  int // frames to have before any is given
	most   int // frames kept at most
	giving bool
}

// The lengths of an ear's queue, seconds.
const (
	earLeast = 0.02
	earMost  = 0.12
)

// hear takes a block that came in.
func (e *ear) hear(block [][]float32) {
	for c := range e.queue {
		e.queue[c] = append(e.queue[c], block[min(c, len(block)-1)]...)
	}
	if n := len(e.queue[0]); n > e.most {
		for c := range e.queue {
			e.queue[c] = append(e.queue[c][:0], e.queue[c][n-e.least:]...)
		}
	}
	e.giving = e.giving || len(e.queue[0]) >= e.least
}

// at returns the next sample of a channel, 0 where none has come.
func (e *ear) at(channel int) float64 {
	if !e.giving {
		return 0
	}
	return float64(e.queue[channel][0])
}

// advance goes on by a frame.
func (e *ear) advance() {
	if !e.giving {
		return
	}
	for c := range e.queue {
		e.queue[c] = e.queue[c][1:]
	}
	e.giving = len(e.queue[0]) > 0
}

// NewLivePlayer returns a player of what [Player.Hear] is given, in channels at rate Hz.
func NewLivePlayer(channels, rate int, law *shape.Law, drive float64, c Controls) (*Player, error) {
	nothing := make([][]float32, channels)
	for i := range nothing {
		nothing[i] = make([]float32, 1)
	}
	p, err := NewPlayer(nothing, rate, law, drive, c)
	if err != nil {
		return nil, err
	}
	p.ear = &ear{queue: make([][]float32, channels), least: p.frames(earLeast), most: p.frames(earMost)}
	return p, nil
}

// Hear gives a live player what came in, planar; a mono block serves all channels.
func (p *Player) Hear(block [][]float32) error {
	if p.ear == nil {
		return errors.New("hear: the source is not a live one")
	}
	if len(block) == 0 || len(block[0]) == 0 {
		return errors.New("hear: an empty block")
	}
	p.ear.hear(block)
	return nil
}
