package render

import (
	"quietcross/corpus"
	"quietcross/dsp/level"
)

// A processor turns the oversampled stage input of one channel into stage
// output at the base rate. len(high) is a multiple of len(dst).
type processor interface {
	Process(dst, high []float64)
}

// A branch is one rung's way through the stage, or the reference's: one
// processor a channel, the statistics, and the spool that keeps the output.
type branch struct {
	processors []processor
	scale      level.Scale
	meter      *level.Meter
	stats      stats
	fit        fit
	spool      *spool

	out, cuts, refCuts [][]float64
}

// newBranch makes a branch whose output is scaled by scale and kept in a spool
// in folder dir.
func newBranch(processors []processor, scale level.Scale, rate float64, dir string) (*branch, error) {
	spool, err := newSpool(dir)
	if err != nil {
		return nil, err
	}
	return &branch{
		processors: processors,
		scale:      scale,
		meter:      level.NewMeter(rate, len(processors)),
		spool:      spool,
		out:        planes(len(processors), blockFrames),
	}, nil
}

// process renders one block and keeps it.
func (b *branch) process(blk *block) error {
	n := len(blk.ref[0])
	for c, p := range b.processors {
		out := b.out[c][:n]
		p.Process(out, blk.high[c])
		b.scale.FromVolts(out, out)
	}
	return b.keep(blk, b.out, n)
}

// reference renders one block into the block's own reference and keeps it.
func (b *branch) reference(blk *block) error {
	n := len(blk.ref[0])
	for c, p := range b.processors {
		p.Process(blk.ref[c], blk.high[c])
		b.scale.FromVolts(blk.ref[c], blk.ref[c])
	}
	return b.keep(blk, blk.ref, n)
}

func (b *branch) keep(blk *block, out [][]float64, n int) error {
	b.cuts = cut(b.cuts, out, blk.skip, n)
	b.refCuts = cut(b.refCuts, blk.ref, blk.skip, n)
	if n == blk.skip {
		return nil
	}
	b.stats.add(b.cuts)
	b.fit.add(b.cuts, b.refCuts)
	b.meter.Add(b.cuts)
	return b.spool.write(b.cuts)
}

// close removes the spool.
func (b *branch) close() error {
	if b.spool == nil {
		return nil
	}
	err := b.spool.close()
	b.spool = nil
	return err
}

// describe fills in a track's levels, given the gain with which it is written.
func (b *branch) describe(t *corpus.Track, gain level.DB) {
	describe(t, &b.stats, b.meter, gain)
}
