package render

import (
	"context"
	"hash/fnv"
	"math"
	"path/filepath"

	"gonum.org/v1/gonum/floats"

	"quietcross/corpus"
	"quietcross/dsp/level"
	"quietcross/dsp/planar"
	"quietcross/dsp/wave"
)

// maximumMakeUp bounds the gain added to a residual: beyond it rounding noise
// would be played at full level.
const maximumMakeUp level.DB = 80

// A finisher writes the files of one item, all of whose branches keep spools.
type finisher struct {
	dir    string // of the set
	item   *corpus.Item
	format wave.Format
	seed   uint64
	match  Match
	ref    *branch
}

// writer creates the WAV file of a track inside the set. Each file's dither has
// its own seed, drawn from the set's and the file's name.
func (f *finisher) writer(file string) (*wave.Writer, error) {
	hash := fnv.New64a()
	hash.Write([]byte(file))
	return wave.Create(filepath.Join(f.dir, filepath.FromSlash(file)), f.format,
		wave.Options{Seed: f.seed ^ hash.Sum64(), Info: wave.Info{Software: "quietcross"}})
}

// writeReference writes the reference track.
func (f *finisher) writeReference(ctx context.Context) error {
	track := &f.item.Reference
	clipped, err := f.writeTrack(ctx, track.File, f.ref, func(y, _ [][]float64) [][]float64 {
		return scale(y, f.item.Trim.Amplitude())
	})
	track.Clipped = clipped
	f.ref.describe(track, f.item.Trim)
	return err
}

// A remainder measures what is left of a branch's output.
type remainder struct {
	stats
	meter *level.Loudness
}

func (r *remainder) add(y [][]float64) {
	r.stats.add(y)
	r.meter.Add(y)
}

// writeRendering writes the rendering and the residual of branch b. r's
// matching gain and fitted gain are set already.
func (f *finisher) writeRendering(ctx context.Context, r *corpus.Rendering, b *branch) error {
	total := r.Applied + f.item.Trim
	factor := matchFactor(f.match, r.Gain, total)
	r.Inverted = factor < 0
	rest := remainder{meter: level.NewLoudness(float64(f.item.Rate), f.item.Channels)}
	clipped, err := f.writeTrack(ctx, r.File, b, func(y, ref [][]float64) [][]float64 {
		rest.add(less(ref, y, r.Gain))
		return scale(y, factor)
	})
	if err != nil {
		return err
	}
	r.Clipped = clipped
	b.describe(&r.Track, total)
	return f.writeResidual(ctx, r, b, &rest)
}

// writeResidual writes what is left of branch b's output when the fitted reference is
// taken out, which rest has measured, with a make-up gain that brings it up to the
// reference's peak.
func (f *finisher) writeResidual(ctx context.Context, r *corpus.Rendering, b *branch, rest *remainder) error {
	total := r.Applied + f.item.Trim
	makeUp := makeUpGain(f.item.Reference.Peak, level.FromAmplitude(rest.peak)+total)
	factor := matchFactor(f.match, r.Gain, total+makeUp)
	clipped, err := f.writeTrack(ctx, r.Residual.File, b, func(y, ref [][]float64) [][]float64 {
		return scale(less(ref, y, r.Gain), factor)
	})
	if err != nil {
		return err
	}
	describe(&r.Residual.Track, &rest.stats, rest.meter, total+makeUp)
	r.Residual.Clipped = clipped
	r.Residual.MakeUp = makeUp
	r.Residual.Offset = b.scale.Volts(rest.mean())
	r.Residual.Level = residualLevel(&rest.stats, &f.ref.stats, r.Gain)
	return nil
}

// makeUpGain returns the whole number of decibels that brings a residual's peak
// up to, and not above, that of the reference.
func makeUpGain(reference, residual level.DB) level.DB {
	gain := level.DB(math.Floor(float64(reference - residual)))
	if math.IsNaN(float64(gain)) || math.IsInf(float64(gain), 0) {
		return 0
	}
	return min(gain, maximumMakeUp)
}

// less turns the reference into y less gain times the reference.
func less(ref, y [][]float64, gain float64) [][]float64 {
	for c := range ref {
		floats.Scale(-gain, ref[c])
		floats.Add(ref[c], y[c])
	}
	return ref
}

// scale amplifies audio in place.
func scale(audio [][]float64, gain float64) [][]float64 {
	for _, channel := range audio {
		floats.Scale(gain, channel)
	}
	return audio
}

// writeTrack writes one WAV file of the blocks that to makes from those of branch b, beside
// those of the reference; to may change both. It returns the number of clipped samples.
func (f *finisher) writeTrack(ctx context.Context, file string, b *branch, to func(y, ref [][]float64) [][]float64) (int64, error) {
	w, err := f.writer(file)
	if err != nil {
		return 0, err
	}
	err = f.each(ctx, b, func(y, ref [][]float64) error { return w.Write(to(y, ref)) })
	if err != nil {
		w.Abort()
		return 0, err
	}
	return w.Clipped(), w.Close()
}

// each calls use with one block of branch b after the other, beside the reference's: of that
// itself they are the same.
func (f *finisher) each(ctx context.Context, b *branch, use func(y, ref [][]float64) error) error {
	yRead, refRead := b.kept.(*spool).reader(), f.ref.kept.(*spool).reader()
	yBlock, refBlock := planar.New(f.item.Channels, blockFrames), planar.New(f.item.Channels, blockFrames)
	var cut, ref [][]float64
	for left := f.item.Frames; left > 0; {
		if err := ctx.Err(); err != nil {
			return err
		}
		n := int(min(left, blockFrames))
		left -= int64(n)
		ref = refBlock.CutInto(ref, 0, n)
		if err := refRead.read(ref, nil); err != nil {
			return err
		}
		y := ref
		if b != f.ref {
			cut = yBlock.CutInto(cut, 0, n)
			if err := yRead.read(cut, ref); err != nil {
				return err
			}
			y = cut
		}
		if err := use(y, ref); err != nil {
			return err
		}
	}
	return nil
}
