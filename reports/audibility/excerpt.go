package audibility

import (
	"context"
	"errors"

	"quietcross/dsp/planar"
	"quietcross/dsp/wave"
)

// WriteExcerpts renders a case at a current and writes the stretch from..to
// seconds of its reference and of the rendering as 24-bit WAV files.
func (c Case) WriteExcerpts(ctx context.Context, quiescent, from, to float64, reference, rendering string) error {
	audio, render, err := c.Open(ctx)
	if err != nil {
		return err
	}
	r, err := render(ctx, quiescent)
	if err != nil {
		return err
	}
	return errors.Join(writeStretch(reference, audio, from, to), writeStretch(rendering, r.Test, from, to))
}

// writeStretch writes a stretch of planar audio at the ear model's rate.
func writeStretch(path string, audio [][]float64, from, to float64) error {
	first := min(max(int(from*EarRate), 0), len(audio[0]))
	last := min(max(int(to*EarRate), first), len(audio[0]))
	w, err := wave.Create(path, wave.Format{Rate: EarRate, Channels: len(audio), Encoding: wave.PCM, Bits: 24}, wave.Options{})
	if err != nil {
		return err
	}
	if err := w.Write(planar.Audio(audio).Cut(first, last)); err != nil {
		return errors.Join(err, w.Abort())
	}
	return w.Close()
}
