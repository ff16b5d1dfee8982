package render

import (
	"quietcross/corpus"
	"quietcross/dsp/level"
	"quietcross/dsp/planar"
)

// A processor turns the oversampled stage input of one channel into stage
// output at the base rate. len(high) is a multiple of len(dst). The error says
// where a stage has no solution.
type processor interface {
	Process(dst, high []float64) error
}

// A branch is one rung's way through the stage, or the reference's: one
// processor a channel, the statistics, and what keeps the output.
type branch struct {
	processors []processor
	scale      level.Scale
	meter      *level.Loudness // nil where loudness is not asked for
	stats      stats
	fit        fit
	kept       keeper // nil after close

	out, cuts, refCuts [][]float64
}

// newBranch makes a branch whose output, in volts, is scaled to samples and kept,
// and whose loudness is measured unless meter is nil.
func newBranch(processors []processor, scale level.Scale, meter *level.Loudness, kept keeper) *branch {
	return &branch{
		processors: processors,
		scale:      scale,
		meter:      meter,
		kept:       kept,
		out:        planar.New(len(processors), blockFrames),
	}
}

// process renders one block and keeps it.
func (b *branch) process(blk *block) error {
	n := len(blk.ref[0])
	for c, p := range b.processors {
		out := b.out[c][:n]
		if err := p.Process(out, blk.high[c]); err != nil {
			return err
		}
		b.scale.FromVolts(out, out)
	}
	return b.keep(blk, b.out, n)
}

// reference renders one block into the block's own reference and keeps it.
func (b *branch) reference(blk *block) error {
	n := len(blk.ref[0])
	for c, p := range b.processors {
		if err := p.Process(blk.ref[c], blk.high[c]); err != nil {
			return err
		}
		b.scale.FromVolts(blk.ref[c], blk.ref[c])
	}
	return b.keep(blk, blk.ref, n)
}

func (b *branch) keep(blk *block, out [][]float64, n int) error {
	b.cuts = planar.Audio(out).CutInto(b.cuts, blk.skip, n)
	b.refCuts = planar.Audio(blk.ref).CutInto(b.refCuts, blk.skip, n)
	if n == blk.skip {
		return nil
	}
	b.stats.add(b.cuts)
	b.fit.add(b.cuts, b.refCuts)
	if b.meter != nil {
		b.meter.Add(b.cuts)
	}
	return b.kept.write(b.cuts, b.refCuts)
}

// close gives up what is kept; it may be called twice.
func (b *branch) close() error {
	if b.kept == nil {
		return nil
	}
	err := b.kept.close()
	b.kept = nil
	return err
}

// describe fills in a track's levels, given the gain with which it is written.
func (b *branch) describe(t *corpus.Track, gain level.DB) {
	describe(t, &b.stats, b.meter, gain)
}
