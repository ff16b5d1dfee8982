//go:build js && wasm

package main

import (
	"errors"
	"unsafe"

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

// rewind goes back by up to so many frames and returns by how many.
func (w *worker) rewind(argument []byte) (any, [][]byte, error) {
	frames, err := read[int](argument)
	if err != nil || w.player == nil {
		return 0, nil, err
	}
	return w.player.Rewind(frames), nil, nil
}

// rehearse plays so many blocks that nobody hears.
func (w *worker) rehearse(argument []byte) error {
	blocks, err := read[int](argument)
	if err != nil {
		return err
	}
	for range blocks {
		if w.play(engine.MaximumBlock) == nil {
			return errUnloaded
		}
	}
	return nil
}

// play plays the next frames. It returns what passed through the stage, as
// [engine.Passed.Append] puts it, and after that what is heard of each channel as 32-bit
// floats; nil where there is no player, or for frames that are not an even number up to
// [engine.MaximumBlock].
func (w *worker) play(frames int) []float64 {
	if w.player == nil || frames < 2 || frames > engine.MaximumBlock || frames%2 != 0 {
		return nil
	}
	for c := range w.block {
		if len(w.block[c]) != frames {
			w.block[c] = make([]float32, frames)
		}
	}
	w.player.Play(w.block)
	w.played = w.player.Passed(frames).Append(w.played[:0])
	for _, x := range w.block {
		w.played = append(w.played, unsafe.Slice((*float64)(unsafe.Pointer(unsafe.SliceData(x))), frames/2)...)
	}
	return w.played
}

// play is for the script to call directly, for every value that goes through a call's
// arguments and results leaves work for the garbage collector, and this is called 190 times
// a second. It returns where in memory two numbers are: how many there are of what
// [worker.play] returns, and where those are; 0 where that is nil.
//
//go:wasmexport play
func play(frames int32) unsafe.Pointer {
	played := theWorker.play(int(frames))
	if played == nil {
		return nil
	}
	theWorker.place = [2]uint32{uint32(len(played)), uint32(uintptr(unsafe.Pointer(unsafe.SliceData(played))))}
	return unsafe.Pointer(&theWorker.place)
}

func (w *worker) tell() (any, [][]byte, error) {
	if w.player == nil {
		return nil, nil, errUnloaded
	}
	return w.player.Tell(), nil, nil
}
