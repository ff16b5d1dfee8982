package reports

import (
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"runtime"
	"sync"

	"quietcross/corpus"
	"quietcross/dsp/level"
	"quietcross/dsp/spectrum"
	"quietcross/reports/format"
)

// Build measures the rendered set in folder dir. Errors name the file and what
// is wrong with it; what could not be measured is absent from the report and
// said in its warnings.
func Build(dir string) (*Report, error) { return BuildContext(context.Background(), dir) }

// BuildContext is [Build], which stops with the context's error when that is
// done.
func BuildContext(ctx context.Context, dir string) (*Report, error) {
	m, err := corpus.Read(dir)
	if err != nil {
		return nil, err
	}
	if err := check(m); err != nil {
		return nil, fmt.Errorf("%s: %w", filepath.Join(dir, corpus.ManifestFile), err)
	}
	r := &Report{
		Schema: SchemaVersion, Program: m.Program, Version: m.Version, Created: m.Created, Seed: m.Seed,
		Stage: m.Stage, Circuit: m.Circuit, Solver: m.Solver, Oversample: m.Oversample,
		Drive: m.Drive, Match: m.Match, Warnings: append([]string{}, m.Warnings...),
	}
	spec, st, err := openStage(dir)
	if err != nil {
		return nil, err
	}
	r.Title, r.Optimum = spec.Title, st.OptimumQuiescent()
	for _, rung := range m.Rungs {
		r.Rungs = append(r.Rungs, Rung{
			Rung: rung, Label: format.Setting(rung.Setting, rung.Value), Condition: condition(m.Circuit, rung, r.Optimum),
		})
	}
	r.curves(st)
	for i := range m.Items {
		item, err := r.measure(ctx, track{dir, &m.Items[i]})
		if err != nil {
			return nil, err
		}
		r.Items = append(r.Items, *item)
	}
	return r, nil
}

// measure measures one item.
func (r *Report) measure(ctx context.Context, t track) (*Item, error) {
	s, err := t.look(ctx)
	if err != nil {
		return nil, err
	}
	item := &Item{
		ID: t.item.ID, Source: t.item.Source, Level: t.item.Level, Rate: t.item.Rate,
		Channels: t.item.Channels, Frames: t.item.Frames, Trim: t.item.Trim, Channel: s.channel,
		Excerpt: s.excerpt(t.item), Reference: t.item.Reference,
		Renderings: make([]Rendering, len(t.item.Renderings)),
		Warnings:   append([]string{}, t.item.Warnings...),
	}
	if item.Crossing, err = t.crossing(s, r.Drive, r.deepest()); err != nil {
		return nil, err
	}
	tasks := []func() error{func() error { return item.measureReference(ctx, t) }}
	for i := range item.Renderings {
		tasks = append(tasks, func() error { return item.measureRendering(ctx, t, i) })
	}
	if err := together(tasks); err != nil {
		return nil, err
	}
	for _, rendering := range item.Renderings {
		item.Warnings = append(item.Warnings, rendering.notes...)
	}
	r.find(item)
	return item, nil
}

// together runs tasks, as many at a time as there are processors, and returns
// their errors joined.
func together(tasks []func() error) error {
	failures := make([]error, len(tasks))
	free := make(chan struct{}, runtime.GOMAXPROCS(0))
	var group sync.WaitGroup
	for i, task := range tasks {
		free <- struct{}{}
		group.Go(func() {
			failures[i] = task()
			<-free
		})
	}
	group.Wait()
	return errors.Join(failures...)
}

func (item *Item) measureReference(ctx context.Context, t track) error {
	bands := newThirds(item.Rate, item.Frames)
	for _, b := range bands.bands {
		item.Bands = append(item.Bands, b.Mid)
	}
	err := t.scan(ctx, item.Reference.File, func(block [][]float64) { bands.average.Add(block[item.Channel]) })
	if err != nil {
		return err
	}
	item.Levels = bands.levels(0)
	if item.Tonal() {
		item.Spectrum, err = t.spectrum(item.Reference.File, item.Channel)
	}
	return err
}

func (item *Item) measureRendering(ctx context.Context, t track, i int) error {
	r := &item.Renderings[i]
	r.Rendering = t.item.Renderings[i]
	bands := newThirds(item.Rate, item.Frames)
	residue := newSpectrogram(item.Rate, item.Frames)
	err := t.scan(ctx, r.Residual.File, func(block [][]float64) {
		bands.average.Add(block[item.Channel])
		residue.Add(block[item.Channel])
	})
	if err != nil {
		return err
	}
	gain := residualGain(r.Rendering)
	r.Levels = bands.levels(gain)
	r.Residue = raster(residue.Map(), item.Rate, gain)
	if !item.Tonal() {
		return nil
	}
	if r.Spectrum, err = t.spectrum(r.File, item.Channel); err != nil {
		return err
	}
	return item.measureHarmonics(t, r)
}

// spectrum is the one-shot spectrum of the middle of a tone; nil when the file
// is too short for one.
func (t track) spectrum(file string, channel int) (*Spectrum, error) {
	x, err := t.steady(file, channel)
	if err != nil || x == nil {
		return nil, err
	}
	return thin(spectrum.Of(x, float64(t.item.Rate), spectrum.BlackmanHarris7)), nil
}

// silence is the level of nothing.
var silence = level.FromAmplitude(0)
