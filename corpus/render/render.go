// Package render passes material through a stage: drive level, oversampling,
// the stage's law at each bias, the file's rate again, level matching, and the
// files of a rendered set. Here volts and samples meet.
package render

import (
	"context"
	"fmt"
	"path/filepath"
	"runtime"
	"sync"
	"time"

	"golang.org/x/sync/errgroup"

	"quietcross/corpus"
	"quietcross/corpus/bias"
	"quietcross/dsp/level"
	"quietcross/dsp/wave"
	"quietcross/stage"
)

// Options say how sources are rendered. The zero value of a field that has a
// default stands for it.
type Options struct {
	// Spec is the stage.
	Spec stage.Spec
	// Settings are the bias settings, one rung each; nil stands for the
	// stage's own ladder from unbiased to over-biased.
	Settings []stage.Setting
	// Levels are relative to the drive; nil stands for [DefaultLevels].
	Levels []level.DB
	// Drive is the stage input at digital full scale, V peak; nil stands for the
	// stage's own, 1 dB under clipping onset as built.
	Drive *float64
	// Match is how levels are matched; "" stands for [MatchLoudness].
	Match Match
	// Format replaces the sample format of the sources; its Rate and Channels
	// are ignored. Nil keeps each source's own format.
	Format *wave.Format
	// Solver is how the stage is solved; "" stands for [SolverAuto].
	Solver Solver
	// Drift lets the bias drift with the programme's heat, from the temperatures
	// at which the stage settles with no signal; it takes the dynamic solver.
	Drift bool
	// Oversample is a power of two from 1 to 32; 0 stands for the solver's own,
	// [StaticOversample] or [DynamicOversample].
	Oversample int
	// Workers bounds how many blocks are worked on at once; 0 stands for one a
	// processor. The result does not depend on it.
	Workers int
	// Seed drives the dither.
	Seed uint64
	// Version is the program's, for the manifest.
	Version string
	// Progress, if not nil, is told the share of the work that is done, 0 to 1.
	// It is called from several goroutines, one at a time.
	Progress func(share float64)
}

// DefaultLevels are rendered when none are asked for: full drive, and a quiet
// passage, in which crossover distortion is worst.
func DefaultLevels() []level.DB { return []level.DB{0, -30} }

// Run renders every source at every level through every rung into folder dir,
// which must exist, and writes the manifest and the resolved stage file beside
// the audio. The folder's content is of no use after an error.
func Run(ctx context.Context, dir string, sources []Source, o Options) (*corpus.Manifest, error) {
	r, err := prepare(ctx, dir, o)
	if err != nil {
		return nil, err
	}
	if err := r.describeItems(sources); err != nil {
		return nil, err
	}
	for i := range r.jobs {
		if err := r.renderItem(ctx, &r.jobs[i]); err != nil {
			return nil, err
		}
	}
	for _, job := range r.jobs {
		r.manifest.Items = append(r.manifest.Items, job.item)
	}
	if err := corpus.WriteFile(filepath.Join(dir, corpus.StageFile), o.Spec.Write); err != nil {
		return nil, err
	}
	return r.manifest, r.manifest.Write(dir)
}

// A renderer holds what all items of a set share.
type renderer struct {
	dir      string
	options  Options
	rungs    []rung
	scale    level.Scale // of the drive
	ladder   *bias.Ladder
	way      way
	lo, hi   float64 // range of the laws, V
	manifest *corpus.Manifest
	jobs     []job
	workers  chan struct{}
	progress progress
}

// A job is one item and the source that it comes from.
type job struct {
	source Source
	item   corpus.Item
}

func prepare(ctx context.Context, dir string, o Options) (*renderer, error) {
	o = o.withDefaults()
	st, err := stage.New(o.Spec)
	if err != nil {
		return nil, err
	}
	if o.Settings == nil {
		if o.Settings, err = st.DefaultLadder(); err != nil {
			return nil, err
		}
	}
	ladder, err := o.ladder(st)
	if err != nil {
		return nil, err
	}
	o.chooseSolver(st)
	r := &renderer{
		dir:     dir,
		options: o,
		scale:   level.NewScale(ladder.Drive()),
		ladder:  ladder,
		workers: make(chan struct{}, o.Workers),
	}
	if r.way, err = newWay(st, o); err != nil {
		return nil, err
	}
	r.hi = lawHeadroom * ladder.Drive() * maximum(o.Levels)
	r.lo = -r.hi
	solving := &solving{ladder: ladder, solver: o.Solver, hi: r.hi, tolerance: bias.RenderTolerance, powers: true, drift: o.Drift}
	if r.rungs, err = solving.rungs(ctx, o.Settings, o.Workers); err != nil {
		return nil, err
	}
	r.manifest = r.newManifest(ladder.Drive())
	return r, r.warn(ctx)
}

// warn notes in the manifest what must be known of its rungs.
func (r *renderer) warn(ctx context.Context) error {
	lists := make([][]string, len(r.rungs))
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(r.options.Workers)
	for i := range r.rungs {
		group.Go(func() (err error) {
			if err := ctx.Err(); err != nil {
				return err
			}
			lists[i], err = r.rungs[i].Warnings()
			return err
		})
	}
	err := group.Wait()
	for i, list := range lists {
		for _, warning := range list {
			r.manifest.Warnings = append(r.manifest.Warnings, r.rungs[i].id+": "+warning)
		}
	}
	return err
}

func (o Options) withDefaults() Options {
	if o.Levels == nil {
		o.Levels = DefaultLevels()
	}
	if o.Match == "" {
		o.Match = MatchLoudness
	}
	if o.Workers == 0 {
		o.Workers = runtime.GOMAXPROCS(0)
	}
	return o
}

// ladder returns the evaluations of a stage at the options' drive.
func (o Options) ladder(st *stage.Stage) (*bias.Ladder, error) { return bias.NewLadder(st, o.Drive) }

// lawHeadroom is how far beyond the drive a law is solved: band-limiting a
// clipped file can overshoot full scale by nearly this ratio.
const lawHeadroom = 1.5

// maximum returns the largest amplitude ratio of the levels, at least 1.
func maximum(levels []level.DB) float64 {
	ratio := 1.0
	for _, l := range levels {
		ratio = max(ratio, l.Amplitude())
	}
	return ratio
}

// describeItems lays out the set: one item for each source at each level.
func (r *renderer) describeItems(sources []Source) error {
	var names names
	for _, source := range sources {
		described, err := source.Describe()
		if err != nil {
			return err
		}
		stream, err := source.Open()
		if err != nil {
			return err
		}
		format, frames := stream.Format(), stream.Frames()
		if err := stream.Close(); err != nil {
			return err
		}
		if frames == 0 {
			return fmt.Errorf("%s: holds no frames: nothing to render", described.Name)
		}
		folder := names.unique(folderName(described.Name))
		for _, l := range r.options.Levels {
			r.jobs = append(r.jobs, job{source: source, item: corpus.Item{
				ID:       folder + "/" + levelName(l),
				Source:   described,
				Level:    l,
				Rate:     format.Rate,
				Channels: format.Channels,
				Frames:   frames,
			}})
			r.progress.total += 2 * frames
		}
	}
	r.progress.report = r.options.Progress
	return nil
}

func (r *renderer) newManifest(drive float64) *corpus.Manifest {
	m := &corpus.Manifest{
		Schema:     corpus.SchemaVersion,
		Program:    "quietcross",
		Version:    r.options.Version,
		Created:    time.Now().UTC().Truncate(time.Second),
		Seed:       r.options.Seed,
		Stage:      r.options.Spec.Name,
		Circuit:    r.options.Spec.Circuit,
		Solver:     string(r.options.Solver),
		Oversample: r.options.Oversample,
		Drive:      drive,
		Match:      string(r.options.Match),
		Drift:      r.options.Drift,
	}
	for _, rung := range r.rungs {
		m.Rungs = append(m.Rungs, rung.record())
	}
	return m
}

// progress turns counted work into a share of the whole.
type progress struct {
	mu     sync.Mutex
	done   int64
	total  int64
	report func(share float64)
}

// add counts frames as done.
func (p *progress) add(frames int64) {
	if p.report == nil {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	p.done += frames
	p.report(min(float64(p.done)/float64(p.total), 1))
}
