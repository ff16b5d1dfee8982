// Package sample writes small rendered sets whose distortion is known in closed
// form, for the tests of the packages that read sets.
package sample

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"time"

	"quietcross/corpus"
	"quietcross/corpus/bias"
	"quietcross/dsp/level"
	"quietcross/dsp/wave"
	"quietcross/stage"
)

// Hostile is the name of the first programme source of a sample: markup, quotes
// and a line separator that ends a line of script.
const Hostile = "<img src=x onerror=alert(1)>\"'&</script>\u2028.wav"

const (
	// ToneHertz is the frequency of the sample's tones, away from any line.
	ToneHertz = 997.3
	// ResidueHertz is the one line in every programme's residual.
	ResidueHertz = 3000
	// Drive is the sample's drive, V.
	Drive = 10.0
)

// Options choose the size of a sample.
type Options struct {
	Tones, Programmes int     // items of each kind
	Rungs             int     // at least 1
	Seconds           float64 // length of every item
	Rate              int     // Hz
	Silent            bool    // all samples are zero
}

// DeadBand returns the depth r = d/A of the dead band of a rung.
func DeadBand(rung int) float64 { return 0.2 / math.Pow(2, float64(rung)) }

// Write writes a sample set into folder dir, which must exist.
func Write(dir string, o Options) error {
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		return err
	}
	file, err := os.Create(filepath.Join(dir, corpus.StageFile))
	if err != nil {
		return err
	}
	if err := spec.Write(file); err != nil {
		file.Close()
		return err
	}
	if err := file.Close(); err != nil {
		return err
	}
	m := &corpus.Manifest{
		Schema: corpus.SchemaVersion, Program: "quietcross", Version: "test",
		Created: time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC), Seed: 7,
		Stage: spec.Name, Circuit: spec.Circuit, Solver: "static", Oversample: 8,
		Drive: Drive, Match: "gain", Rungs: rungs(o.Rungs),
	}
	for i := range o.Tones + o.Programmes {
		item, err := writeItem(dir, i, o)
		if err != nil {
			return err
		}
		m.Items = append(m.Items, *item)
	}
	return m.Write(dir)
}

func rungs(n int) []bias.Rung {
	var list []bias.Rung
	for i := range n {
		r := bias.Rung{
			ID: fmt.Sprintf("%02d", i), Setting: "quiescent", Value: 0.001 * math.Pow(3, float64(i)),
			Bias: 1.1 + 0.05*float64(i), GainAtZero: 0.9 + 0.01*float64(i), GainAtSwing: 0.97,
			CrossoverWidth: 2 * DeadBand(i), ClipLow: -11, ClipHigh: 11, IdleDissipation: float64(i),
		}
		r.Quiescent = r.Value
		if i == 0 {
			r.Setting, r.Value, r.Bias, r.Quiescent, r.GainAtZero = "bias", 0, 0, 1e-14, 0.01
		}
		r.Condition = [...]stage.Condition{stage.Unbiased, stage.Under, stage.Under, stage.Under, stage.AtOptimum}[min(i, 4)]
		if i > 4 {
			r.Condition = stage.Over
		}
		list = append(list, r)
	}
	return list
}

// writeItem writes the files of one item: tones first, programmes after.
func writeItem(dir string, index int, o Options) (*corpus.Item, error) {
	item := &corpus.Item{
		Rate: o.Rate, Channels: 1, Frames: int64(o.Seconds * float64(o.Rate)), Level: level.DB(0 - 20*float64(index%3)),
		Source: corpus.Source{Name: fmt.Sprintf("tone-%d.wav", index), Kind: "tone", Tones: []float64{ToneHertz}, Format: "32-bit float"},
	}
	if index >= o.Tones {
		item.Source = corpus.Source{Name: fmt.Sprintf("music-%d.wav", index), Kind: "programme", Format: "32-bit float"}
		if index == o.Tones {
			item.Source.Name = Hostile
		}
	}
	item.ID = fmt.Sprintf("item-%d/%gdB", index, float64(item.Level))
	s := signal{item.Source.Kind == "tone", o.Silent, float64(o.Rate), int(item.Frames)}
	var err error
	reference := s.reference()
	if item.Reference, err = write(dir, item, "reference.wav", reference); err != nil {
		return nil, err
	}
	for k := range o.Rungs {
		gain, residual := s.residual(reference, k)
		out := make([]float64, len(reference))
		for i := range out {
			out[i] = reference[i] + residual[i]/gain
		}
		r := corpus.Rendering{
			Gain: gain, Applied: -level.FromAmplitude(gain),
			Power: &corpus.Power{Supply: 4, Load: 2, Dissipation: 1.5, Efficiency: 0.5, Settled: &bias.Thermal{Verdict: stage.Settles, Junction: 333.15}},
		}
		if r.Track, err = write(dir, item, fmt.Sprintf("%02d.wav", k), out); err != nil {
			return nil, err
		}
		r.Residual.Level = level.FromAmplitude(level.RMS(residual) / (gain * level.RMS(reference)))
		r.Residual.MakeUp = 20
		for i := range residual {
			residual[i] *= r.Residual.MakeUp.Amplitude() / gain
		}
		if r.Residual.Track, err = write(dir, item, fmt.Sprintf("%02d-residual.wav", k), residual); err != nil {
			return nil, err
		}
		item.Renderings = append(item.Renderings, r)
	}
	return item, nil
}

func write(dir string, item *corpus.Item, name string, x []float64) (corpus.Track, error) {
	t := corpus.Track{File: item.ID + "/" + name, RMS: level.FromAmplitude(level.RMS(x)), Loudness: -23}
	for _, v := range x {
		t.Peak = max(t.Peak, level.DB(math.Abs(v)))
	}
	t.Peak = level.FromAmplitude(float64(t.Peak))
	path := filepath.Join(dir, filepath.FromSlash(t.File))
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return t, err
	}
	w, err := wave.Create(path, wave.Format{Rate: item.Rate, Channels: 1, Encoding: wave.Float, Bits: 32}, wave.Options{})
	if err != nil {
		return t, err
	}
	if err := w.Write([][]float64{x}); err != nil {
		w.Abort()
		return t, err
	}
	return t, w.Close()
}
