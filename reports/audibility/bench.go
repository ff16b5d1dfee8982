package audibility

import (
	"context"
	"fmt"

	"quietcross/corpus/bias"
	"quietcross/corpus/render"
	"quietcross/dsp/level"
	"quietcross/dsp/planar"
	"quietcross/dsp/wave"
	"quietcross/stage"
)

// EarRate is the sampling rate at which the ear model works, Hz.
const EarRate = 48000

// Numbers computes the simple figures of a rung for a piece whose peak at the
// stage's input is given in volts.
type Numbers func(setting stage.Setting, peak float64) (map[string]float64, error)

// Cases returns one case for each source at each level, rendered on the bench.
// numbers may be nil.
func Cases(bench *render.Bench, sources []render.Source, levels []level.DB, numbers Numbers) ([]Case, error) {
	var cases []Case
	for _, source := range sources {
		described, err := source.Describe()
		if err != nil {
			return nil, err
		}
		for _, l := range levels {
			piece := &piece{bench: bench, source: source, level: l, numbers: numbers}
			cases = append(cases, Case{Material: described.Name, Level: l, Open: piece.open})
		}
	}
	return cases, nil
}

// A piece is one source at one level on a bench.
type piece struct {
	bench   *render.Bench
	source  render.Source
	level   level.DB
	numbers Numbers
	audio   *render.Piece // at EarRate; nil until opened
	peak    float64       // at the stage's input, V
}

// open reads the source, unless it was opened before, and renders its reference.
func (p *piece) open(ctx context.Context) ([][]float64, Render, error) {
	if p.audio == nil {
		audio, err := load(p.source)
		if err != nil {
			return nil, nil, err
		}
		p.audio = p.bench.Piece(audio, EarRate, p.level)
		for _, channel := range audio {
			p.peak = max(p.peak, p.bench.Ladder().Drive()*p.level.Amplitude()*level.Peak(channel))
		}
	}
	reference, err := p.audio.Reference(ctx)
	if err != nil {
		return nil, nil, err
	}
	return reference, p.render, nil
}

// render renders the piece at a quiescent current.
func (p *piece) render(ctx context.Context, quiescent float64) (Rendering, error) {
	setting := bias.Current(quiescent)
	clip, err := p.audio.Render(ctx, setting)
	if err != nil {
		return Rendering{}, err
	}
	r := Rendering{Test: clip.Output, Bias: clip.Rung.Bias, Numbers: map[string]float64{}}
	if p.numbers != nil {
		if r.Numbers, err = p.numbers(setting, p.peak); err != nil {
			return Rendering{}, err
		}
	}
	r.Numbers["residual_db"] = float64(clip.Residual)
	return r, nil
}

// MaxSeconds bounds a piece that is held in memory.
const MaxSeconds = 120

// load reads a whole source of one or two channels at the ear model's rate.
func load(source render.Source) ([][]float64, error) {
	stream, err := source.Open()
	if err != nil {
		return nil, err
	}
	defer stream.Close()
	format := stream.Format()
	if err := fits(format, stream.Frames()); err != nil {
		return nil, err
	}
	audio, err := planar.ReadAll(stream, format.Channels)
	if err != nil {
		return nil, err
	}
	return ToEarRate(audio, format.Rate)
}

// fits returns an error unless so many frames can be held in memory and heard.
func fits(format wave.Format, frames int64) error {
	if format.Channels > 2 {
		return fmt.Errorf("%d channels; the ear model hears one or two", format.Channels)
	}
	if seconds := float64(frames) / float64(format.Rate); seconds > MaxSeconds {
		return fmt.Errorf("%.0f s long; legal here are up to %d s, cut out the part in question", seconds, MaxSeconds)
	}
	return nil
}

// ToneNumbers returns the simple figures of a bench's stage that are set against
// the prediction: those of a steady tone with the piece's peak.
func ToneNumbers(bench *render.Bench) Numbers {
	return func(setting stage.Setting, peak float64) (map[string]float64, error) {
		evaluation, err := bench.Ladder().At(setting)
		if err != nil {
			return nil, err
		}
		figures, err := evaluation.Simple(peak)
		return numbers(figures), err
	}
}

// numbers are the figures by their names in JSON.
func numbers(f bias.Simple) map[string]float64 {
	n := map[string]float64{"thd": f.THD, "weighted_thd": f.WeightedTHD, "order_weighted": f.OrderWeighted}
	if f.Gm != nil {
		n["gm"] = *f.Gm
	}
	return n
}

// ToEarRate returns planar audio at rate Hz as the ear model takes it, at 48 kHz.
func ToEarRate(audio [][]float64, rate int) ([][]float64, error) {
	if rate == EarRate {
		return audio, nil
	}
	converted := make([][]float64, len(audio))
	for c, channel := range audio {
		converter, err := NewEarConverter(rate)
		if err != nil {
			return nil, err
		}
		converted[c] = converter.Flush(converter.Process(nil, channel))
	}
	return converted, nil
}
