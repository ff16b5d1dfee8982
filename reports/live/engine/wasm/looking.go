//go:build js && wasm

package main

import "quietcross/reports/live/engine"

// What the worker that looks at the sound is asked: blocks that passed in, figures out. It is
// another one than plays.

// note takes a block that passed through the player's stage, as [play] left it.
func (w *worker) note(buffers [][]byte) error {
	passed, err := engine.PassedOf(asFloats[float64](buffers)[0])
	if err == nil {
		w.scope().Note(passed)
	}
	return err
}

// view returns what the figures show. A portrait comes with it when the stage changed.
func (w *worker) view(argument []byte) (any, [][]byte, error) {
	want, err := read[struct {
		Told     engine.Told
		Late     int
		Seconds  float64
		Spectra  bool
		Portrait *engine.Portrait
	}](argument)
	if err != nil {
		return nil, nil, err
	}
	if want.Portrait != nil {
		w.portrait = want.Portrait
	}
	return w.scope().View(want.Told, want.Late, want.Seconds, want.Spectra, w.portrait), nil, nil
}
