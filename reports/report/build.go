package report

import (
	"context"
	"errors"
	"fmt"
	"math"
	"path/filepath"
	"runtime"
	"sync"

	"quietcross/corpus"
	"quietcross/dsp/level"
	"quietcross/dsp/spectrum"
	"quietcross/reports/view/format"
)

// Build measures the rendered set in folder dir with the default options. Errors name the file and what
// is wrong with it; what could not be measured is absent from the report and
// said in its warnings.
func Build(dir string) (*Report, error) {
	return BuildContext(context.Background(), dir, DefaultOptions())
}

// BuildContext is [Build] with options, which stops with the context's error when
// that is done. The report does not depend on the number of processors.
func BuildContext(ctx context.Context, dir string, o Options) (*Report, error) {
	if err := o.Heard.Check(); err != nil {
		return nil, err
	}
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
		Drive: m.Drive, Match: m.Match, Heard: o.Heard,
		Warnings: append([]string{}, m.Warnings...),
	}
	spec, st, err := openStage(dir)
	if err != nil {
		return nil, err
	}
	r.Spec, r.Title, r.Optimum = spec, spec.Title, st.OptimumQuiescent()
	for _, rung := range m.Rungs {
		r.Rungs = append(r.Rungs, Rung{
			Rung: rung, Label: format.Setting(rung.Setting, rung.Value),
		})
	}
	if err := r.curves(st); err != nil {
		return nil, err
	}
	if err := r.items(ctx, dir, m); err != nil {
		return nil, err
	}
	return r, nil
}

// items measures all items of the set.
func (r *Report) items(ctx context.Context, dir string, m *corpus.Manifest) error {
	for i := range m.Items {
		r.Items = append(r.Items, newItem(&m.Items[i], m.Drive))
	}
	for i := range m.Items {
		if err := r.measure(ctx, track{dir, &m.Items[i]}, &r.Items[i]); err != nil {
			return err
		}
	}
	r.Correlations = r.pool()
	return nil
}

// newItem is an item as the manifest has it.
func newItem(item *corpus.Item, drive float64) Item {
	return Item{
		ID: item.ID, Source: item.Source, Level: item.Level, Rate: item.Rate,
		Channels: item.Channels, Frames: item.Frames, Trim: item.Trim, Reference: item.Reference,
		Peak:       bounded((item.Reference.Peak - item.Trim).Amplitude() * drive),
		Renderings: make([]Rendering, len(item.Renderings)),
		Warnings:   append([]string{}, item.Warnings...),
	}
}

// bounded keeps a peak of a manifest to what can be written.
func bounded(peak float64) float64 { return min(peak, math.MaxFloat64) }

// measure measures one item.
func (r *Report) measure(ctx context.Context, t track, item *Item) error {
	s, err := t.look(ctx)
	if err != nil {
		return err
	}
	item.Channel, item.Excerpt = s.channel, s.excerpt(t.item)
	if item.Crossing, err = t.crossing(s, r.Drive, r.deepest()); err != nil {
		return err
	}
	item.DetectionOmitted = beyondTheEar(t.item)
	tasks := []func() error{func() error { return item.measureReference(ctx, t) }}
	for i := range item.Renderings {
		tasks = append(tasks,
			func() error { return item.measureRendering(ctx, t, i) },
			func() error { r.measureSine(item, i); return nil })
	}
	if err := together(tasks); err != nil {
		return err
	}
	if err := item.detect(ctx, t, r.Heard); err != nil {
		return err
	}
	r.conclude(item)
	return nil
}

// measureSine notes what a rung's law makes of a sine of the item's peak.
func (r *Report) measureSine(item *Item, i int) {
	if !r.solvable(item.Peak) || r.solved[i] == nil {
		return
	}
	rendering := &item.Renderings[i]
	rendering.Sine, rendering.sineNote = sine(r.solved[i], item.Peak)
}

// conclude adds what follows from the measurements of all rungs.
func (r *Report) conclude(item *Item) {
	for i := range item.Renderings {
		rendering := &item.Renderings[i]
		item.Warnings = append(item.Warnings, rendering.notes...)
		if rendering.sineNote != "" {
			item.Warnings = append(item.Warnings, r.Rungs[i].ID+": "+rendering.sineNote)
		}
		if passes(rendering.Rendering) {
			rendering.Weighted = weigh(rendering.weights, item.weights, residualGain(rendering.Rendering))
		}
	}
	r.find(item)
	item.Correlations = correlate(item.all())
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
	err := t.scan(ctx, item.Reference.File, func(block [][]float64) error {
		bands.average.Add(block[item.Channel])
		return nil
	})
	if err != nil {
		return err
	}
	item.Levels = bands.levels(0)
	item.weights = bands.powers()
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
	err := t.scan(ctx, r.Residual.File, func(block [][]float64) error {
		bands.average.Add(block[item.Channel])
		residue.Add(block[item.Channel])
		return nil
	})
	if err != nil {
		return err
	}
	gain := residualGain(r.Rendering)
	r.Levels = bands.levels(gain)
	r.weights = bands.powers()
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
