package quiescent

import (
	"cmp"
	"context"
	"math"
	"slices"
	"sync"

	"golang.org/x/sync/errgroup"

	"quietcross/corpus/render"
	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/reports/audibility"
	"quietcross/stage"
)

// Result is what was worked out for one stage.
type Result struct {
	Stage   string     `json:"stage"`
	Title   string     `json:"title"`
	Circuit string     `json:"circuit"`
	Drive   float64    `json:"drive_v"`
	Load    float64    `json:"load_ohm"`
	Memory  bool       `json:"memory"` // see stage.HasMemory: tones are then of the periodic state, and sound is rendered in time
	Levels  []level.DB `json:"levels_db"`
	// Heard is what the prediction holds for.
	Heard  hearing.Conditions `json:"conditions"`
	Limits Limits             `json:"limits"`
	// ClassA is the quiescent current of class A up to the drive, A.
	ClassA float64 `json:"class_a_a"`
	// Rungs are in ascending order of current, from none to class A, or to twice the
	// optimum where that is more: those of the sweep and those that the choice rests on.
	Rungs          []Rung               `json:"rungs"`
	Findings       []audibility.Finding `json:"findings"`
	Recommendation Recommendation       `json:"recommendation"`
	// Chosen is the rung at Recommendation.Set, Parts what makes it, Guide how to set it
	// and Yield how units fare there; nil where no current meets the limits.
	Chosen *Rung  `json:"chosen,omitempty"`
	Parts  *Parts `json:"parts,omitempty"`
	Guide  *Guide `json:"guide,omitempty"`
	Yield  *Yield `json:"yield,omitempty"`
	// Edges are limits beside those of heat and hearing that the stage breaks at the
	// current to set, whatever its bias: safe area, load of 45 degrees, clipping. Where there
	// is none to set they are those at the current that hearing asks for.
	Edges []string `json:"edges,omitempty"`
	// Remedies are what was tried where no current meets the limits, or where the safe area
	// or that of a load of 45 degrees is broken.
	Remedies []Remedy `json:"remedies,omitempty"`

	bench [2]float64 // air on it, K
}

// Run works a stage out. The error is that of options that are not legal, of
// material that cannot be read, of a stage that cannot be solved as built, or of
// a context that has ended.
func Run(ctx context.Context, o Options) (*Result, error) {
	if err := o.Check(); err != nil {
		return nil, err
	}
	o.Sources = slices.Clone(o.Sources)
	for i, source := range o.Sources {
		o.Sources[i] = render.Held(source, audibility.MaxSeconds) // the longest that is listened to
	}
	c, err := newClimber(&o)
	if err != nil {
		return nil, err
	}
	r := &Result{
		Stage: o.Spec.Name, Title: o.Spec.Title, Circuit: o.Spec.Circuit,
		Drive: c.ladder.Drive(), Load: o.Spec.Load.Ohms, Memory: c.stage.HasMemory(),
		Levels: o.Levels, Heard: o.Heard, Limits: o.Limits, ClassA: c.classA, bench: o.Parts.Air,
	}
	return r, c.run(ctx, r)
}

func newClimber(o *Options) (*climber, error) {
	c := &climber{options: o}
	var err error
	if c.bench, err = o.bench(o.Spec); err != nil {
		return nil, err
	}
	c.ladder = c.bench.Ladder()
	c.stage = c.ladder.Stage()
	all, err := collect(o.Sources, c.ladder.Drive()*slices.Max(o.Levels).Amplitude())
	if err != nil {
		return nil, err
	}
	c.music = stage.Programme(all.Profile())
	built, err := c.stage.Set(stage.AsBuilt())
	if err != nil {
		return nil, err
	}
	c.devices = len(built.Outputs())
	if c.swing, err = swing(built, c.ladder.Drive()); err != nil {
		return nil, err
	}
	classA, err := classACurrent(built, c.ladder.Drive(), c.swing)
	if err != nil {
		return nil, err
	}
	_, most, err := c.stage.QuiescentRange()
	if err != nil {
		return nil, err
	}
	c.classA, c.most = classA, most
	c.span(sweepDepth)
	return c, nil
}

// span sets the currents of the sweep.
func (c *climber) span(depth float64) {
	optimum := c.stage.OptimumQuiescent()
	c.currents = sweep(optimum, min(max(c.classA, 2*optimum), c.most), depth)
	c.low, c.high = c.currents[0], c.currents[len(c.currents)-1]
}

// Shares of the work, about as they take time.
const (
	hearingShare = 0.6
	rungShare    = 0.15
	yieldShare   = 0.25
)

func (c *climber) run(ctx context.Context, r *Result) error {
	progress := newProgress(c.options.Progress)
	var err error
	if err = c.sweepDown(ctx, r, progress); err != nil {
		return err
	}
	rec := &r.Recommendation
	if err = c.settle(ctx, rec, r); err != nil {
		return err
	}
	if rec.Met {
		err = c.choose(ctx, r, progress)
	} else {
		rec.Binds = c.binds(rec, r)
		r.Remedies, err = c.remedies(ctx, *rec, r)
		if at := nudged * rec.Margin; err == nil && rec.MarginKnown && at >= c.low && at <= c.high {
			err = c.edges(r, at)
		}
	}
	progress.at(1)
	return err
}

// sweepDown listens to and evaluates the sweep, and a deeper one where it does not reach,
// and recommends a range.
func (c *climber) sweepDown(ctx context.Context, r *Result, progress *progress) error {
	var err error
	c.session, err = c.options.session(c.bench, c.low, c.high, func(done, total int) {
		progress.at(hearingShare * float64(done) / float64(total))
	})
	if err != nil {
		return err
	}
	for _, deeper := range []float64{deepSweep, 0} {
		if r.Findings, err = whole(c.session.Search(ctx)); err != nil {
			return err
		}
		if deeper == 0 || sweeps(r.Findings, c.low) {
			if err = c.look(ctx, r, progress); err != nil {
				return err
			}
			if low, _ := r.Recommendation.bounds(); deeper == 0 || low >= c.low*(1-near) {
				return nil
			}
		}
		c.span(deeper)
		c.session.Widen(c.low)
	}
	return nil
}

// look evaluates the sweep and recommends a range.
func (c *climber) look(ctx context.Context, r *Result, progress *progress) error {
	var err error
	if r.Rungs, err = c.rungs(ctx, progress); err != nil {
		return err
	}
	r.listened()
	r.Recommendation, err = c.recommend(r.Findings, r.Rungs)
	return err
}

// rungs evaluates the sweep.
func (c *climber) rungs(ctx context.Context, progress *progress) ([]Rung, error) {
	list := append([]float64{0}, c.currents...)
	rungs, err := c.evaluate(ctx, list, func() { progress.add(rungShare / float64(len(list))) })
	return sorted(rungs), err
}

// evaluate evaluates currents, but for what is heard.
func (c *climber) evaluate(ctx context.Context, list []float64, told func()) ([]Rung, error) {
	rungs := make([]Rung, len(list))
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(c.options.Workers)
	for i, quiescent := range list {
		group.Go(func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			rungs[i] = c.rung(quiescent)
			told()
			return nil
		})
	}
	return rungs, group.Wait()
}

func sorted(rungs []Rung) []Rung {
	slices.SortFunc(rungs, func(a, b Rung) int { return cmp.Compare(a.Quiescent, b.Quiescent) })
	return rungs
}

// at returns the rung of a current; nil where there is none.
func (r *Result) at(quiescent float64) *Rung {
	for i := range r.Rungs {
		if q := r.Rungs[i].Quiescent; quiescent > 0 && math.Abs(q-quiescent) <= near*quiescent {
			return &r.Rungs[i]
		}
	}
	return nil
}

// choose works out how to make the recommended current.
func (c *climber) choose(ctx context.Context, r *Result, progress *progress) error {
	r.Chosen = r.at(r.Recommendation.Set)
	var err error
	if r.Parts, err = c.choice(r.Chosen.Quiescent); err != nil {
		return err
	}
	if err = c.edges(r, r.Chosen.Quiescent); err != nil {
		return err
	}
	guide, err := c.guide(r.Chosen, r.Parts)
	if err != nil {
		return err
	}
	r.Guide = &guide
	if c.options.Units == 0 {
		return nil
	}
	c.sinePeak = r.Chosen.Sine.Peak
	r.Yield, err = c.yield(ctx, r.Recommendation.Minimum, r.Chosen.Quiescent, func() {
		progress.add(yieldShare / float64(c.options.Units))
	})
	return err
}

// progress tells the share of the work that is done, one call at a time.
type progress struct {
	mutex sync.Mutex
	share float64
	tell  func(share float64)
}

func newProgress(tell func(share float64)) *progress { return &progress{tell: tell} }

// at moves the share to a value, never back.
func (p *progress) at(share float64) {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	p.share = min(1, math.Max(share, p.share))
	if p.tell != nil {
		p.tell(p.share)
	}
}

func (p *progress) add(share float64) {
	p.mutex.Lock()
	defer p.mutex.Unlock()
	p.share = min(1, p.share+share)
	if p.tell != nil {
		p.tell(p.share)
	}
}
