//go:build js && wasm

package main

import (
	"errors"
	"fmt"
	"slices"

	"quietcross/dsp/shape"
	"quietcross/reports/live/engine"
)

// What the worker that plays is asked: sound, stage and controls in, blocks out.

// lawOf reads a law as the solving worker wrote it.
func lawOf(data []byte) (*shape.Law, error) {
	law := &shape.Law{}
	return law, law.UnmarshalBinary(data)
}

// load makes a player of the sound in the buffers, the law first.
func (w *worker) load(argument []byte, buffers [][]byte) error {
	p, err := read[programme](argument)
	if err != nil {
		return err
	}
	law, err := lawOf(buffers[0])
	if err != nil {
		return err
	}
	player, err := engine.NewPlayer(asFloats[float32](buffers[1:]), p.Rate, law, p.Drive, p.Controls)
	if err != nil {
		return err
	}
	w.player = player
	w.block = make([][]float32, len(buffers)-1)
	return nil
}

// live makes a player of what it will hear; the law is in the buffer.
func (w *worker) live(argument []byte, buffers [][]byte) error {
	p, err := read[programme](argument)
	if err != nil {
		return err
	}
	law, err := lawOf(buffers[0])
	if err != nil {
		return err
	}
	player, err := engine.NewLivePlayer(p.Channels, p.Rate, law, p.Drive, p.Controls)
	if err != nil {
		return err
	}
	w.player = player
	w.block = make([][]float32, p.Channels)
	return nil
}

func (w *worker) hear(buffers [][]byte) error {
	if w.player == nil {
		return errUnloaded
	}
	return w.player.Hear(asFloats[float32](buffers))
}

var errUnloaded = errors.New("engine: nothing to play was loaded yet")

func (w *worker) law(_ []byte, buffers [][]byte) error {
	if w.player == nil {
		return errUnloaded
	}
	law, err := lawOf(buffers[0])
	if err == nil {
		w.player.SetLaw(law)
	}
	return err
}

// follow has the player follow a circuit in time.
func (w *worker) follow(argument []byte) error {
	circuit, err := read[engine.Circuit](argument)
	if err != nil {
		return err
	}
	if w.player == nil {
		return errUnloaded
	}
	w.player.Follow(circuit)
	return nil
}

// work does for some seconds what is to be done between blocks, and tells whether more is
// to come.
func (w *worker) work(argument []byte) (any, [][]byte, error) {
	seconds, err := read[float64](argument)
	if err != nil || w.player == nil {
		return false, nil, err
	}
	w.player.Work(seconds)
	return w.player.Coming(), nil, nil
}

func (w *worker) stage(argument []byte, buffers [][]byte) error {
	drive, err := read[float64](argument)
	if err != nil {
		return err
	}
	if w.player == nil {
		return errUnloaded
	}
	law, err := lawOf(buffers[0])
	if err == nil {
		w.player.SetStage(law, drive)
	}
	return err
}

func (w *worker) controls(argument []byte) error {
	c, err := read[engine.Controls](argument)
	if err != nil {
		return err
	}
	if w.player == nil {
		return c.Check()
	}
	return w.player.Set(c)
}

func (w *worker) seek(argument []byte) error {
	seconds, err := read[float64](argument)
	if err == nil && w.player != nil {
		w.player.Seek(seconds)
	}
	return err
}

// play returns the next frames, one buffer a channel, and after them what passed through the
// stage, for [worker.note].
func (w *worker) play(argument []byte) (any, [][]byte, error) {
	frames, err := read[int](argument)
	if err != nil {
		return nil, nil, err
	}
	if w.player == nil {
		return nil, nil, errUnloaded
	}
	if frames < 1 || frames > engine.MaximumBlock {
		return nil, nil, fmt.Errorf("engine: %d frames, legal are 1 to %d", frames, engine.MaximumBlock)
	}
	for c := range w.block {
		if len(w.block[c]) != frames {
			w.block[c] = make([]float32, frames)
		}
	}
	w.player.Play(w.block)
	passed := w.player.Passed(frames)
	return passed, slices.Concat(asBytes(w.block), asBytes(passed.Reference), asBytes([][]float64{passed.Out})), nil
}

func (w *worker) tell() (any, [][]byte, error) {
	if w.player == nil {
		return nil, nil, errUnloaded
	}
	return w.player.Tell(), nil, nil
}
