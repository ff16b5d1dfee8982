package render

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"

	"golang.org/x/sync/errgroup"

	"quietcross/corpus"
	"quietcross/corpus/bias"
	"quietcross/dsp/intake"
	"quietcross/dsp/level"
	"quietcross/dsp/wave"
	"quietcross/stage"
)

// renderItem renders one item and writes its files.
func (r *renderer) renderItem(ctx context.Context, j *job) (err error) {
	stream, err := j.source.Open()
	if err != nil {
		return err
	}
	defer stream.Close()
	if err := os.MkdirAll(filepath.Join(r.dir, filepath.FromSlash(j.item.ID)), 0o777); err != nil {
		return err
	}
	p, err := r.newPass(stream, j.item.Level)
	if err != nil {
		return err
	}
	defer func() {
		if closeErr := p.close(); err == nil {
			err = closeErr
		}
	}()
	if err := p.run(ctx); err != nil {
		return fmt.Errorf("%s: %w", j.item.ID, err)
	}
	for _, warning := range stream.Warnings() { // those of the samples are known now
		j.item.Warnings = append(j.item.Warnings, j.item.Source.Name+": "+warning)
	}
	return r.finish(ctx, &j.item, p, stream.Format())
}

// newPass makes the branches of one item: the reference and one for each rung.
func (r *renderer) newPass(stream intake.Stream, l level.DB) (*pass, error) {
	p := &pass{
		stream:     stream,
		scale:      r.scale.At(l),
		way:        r.way,
		source:     r.way.source,
		oversample: r.options.Oversample,
		lo:         r.lo,
		hi:         r.hi,
		inputs:     bias.NewHistogram(r.lo, r.hi),
		workers:    r.workers,
		advance:    r.progress.add,
	}
	format := stream.Format()
	var err error
	if p.reference, err = r.newBranch(format, true, func() (processor, error) { return r.way.reference(format.Rate, l) }); err != nil {
		return p, err
	}
	for i := range r.rungs {
		b, err := r.newBranch(format, false, func() (processor, error) { return r.way.processor(&r.rungs[i], format.Rate) })
		if err != nil {
			return p, fmt.Errorf("%s: %w", r.rungs[i].id, err)
		}
		b.openMeter()
		p.rungs = append(p.rungs, b)
	}
	return p, nil
}

// newBranch makes a branch, the reference's or a rung's, that keeps its output in a spool in
// the set's folder, with a processor for each channel.
func (r *renderer) newBranch(format wave.Format, reference bool, one func() (processor, error)) (*branch, error) {
	processors, err := perChannel(format.Channels, one)
	if err != nil {
		return nil, err
	}
	kept, err := newSpool(r.dir, format.Channels, codingFor(outputFormat(format, r.options.Format), reference))
	if err != nil {
		return nil, err
	}
	return newBranch(processors, r.scale, level.NewLoudness(float64(format.Rate), format.Channels), kept), nil
}

// perChannel makes one processor for each channel.
func perChannel(channels int, one func() (processor, error)) ([]processor, error) {
	processors := make([]processor, channels)
	for c := range processors {
		var err error
		if processors[c], err = one(); err != nil {
			return nil, err
		}
	}
	return processors, nil
}

// finish matches the levels and writes the item's files, rungs in parallel.
func (r *renderer) finish(ctx context.Context, item *corpus.Item, p *pass, format wave.Format) error {
	if err := r.match(item, p); err != nil {
		return err
	}
	f := &finisher{
		dir:    r.dir,
		item:   item,
		format: outputFormat(format, r.options.Format),
		seed:   r.options.Seed,
		match:  r.options.Match,
		ref:    p.reference,
	}
	if err := f.writeReference(ctx); err != nil {
		return err
	}
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(r.options.Workers)
	for i, b := range p.rungs {
		group.Go(func() error {
			if err := f.writeRendering(ctx, &item.Renderings[i], b); err != nil {
				return err
			}
			r.progress.add(item.Frames / int64(len(p.rungs)))
			return b.close()
		})
	}
	return group.Wait()
}

// power returns the mean powers of a rung over an item, with the temperature that its
// junctions would settle at.
func (r *renderer) power(rung *rung, b *branch, p *pass) (*corpus.Power, error) {
	var power *corpus.Power
	if rung.power != nil {
		power = rung.power.power(p.inputs)
	} else if power = b.metered(); power == nil {
		return nil, nil
	}
	profile := p.inputs.Profile()
	if profile == nil {
		return power, nil
	}
	settled, err := rung.Settle(r.ladder.Stage().Conditions(stage.Programme(profile)))
	power.Settled = &settled
	return power, err
}

// match sets the gains and file names of the item's renderings and the trim
// that they share.
func (r *renderer) match(item *corpus.Item, p *pass) (err error) {
	item.Reference.File = item.ID + "/reference.wav"
	item.Renderings = make([]corpus.Rendering, len(p.rungs))
	peaks := []level.DB{level.FromAmplitude(p.reference.stats.peak)}
	for i, b := range p.rungs {
		gain, warning := matchGain(r.options.Match, b, p.reference)
		if warning != "" {
			item.Warnings = append(item.Warnings, r.rungs[i].id+": "+warning)
		}
		if b.tooHot() {
			item.Warnings = append(item.Warnings, r.rungs[i].id+": a junction passed its maximum temperature: such a device fails, and may short its rail to the loudspeaker; do not run such a stage")
		}
		rendering := &item.Renderings[i]
		rendering.Gain = b.fit.gain()
		rendering.Applied = gain
		rendering.OutOfRange = p.outOfRange
		if rendering.Power, err = r.power(&r.rungs[i], b, p); err != nil {
			return fmt.Errorf("%s: %w", r.rungs[i].id, err)
		}
		rendering.Steps = b.steps()
		rendering.File = item.ID + "/" + r.rungs[i].id + ".wav"
		rendering.Residual.File = item.ID + "/" + r.rungs[i].id + "-residual.wav"
		peaks = append(peaks, level.FromAmplitude(b.stats.peak)+gain)
	}
	if r.options.Match != MatchOff {
		item.Trim = trim(peaks)
	} else if loudest := slices.Max(peaks); loudest > 0 {
		item.Warnings = append(item.Warnings, loudWarning(loudest))
	}
	return nil
}
