package quiescent

import (
	"cmp"
	"context"
	"fmt"
	"slices"

	"quietcross/corpus/render"
	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/reports/audibility"
	"quietcross/stage"
)

// Heard is what is predicted of one piece at one level.
type Heard struct {
	Material string   `json:"material"`
	Level    level.DB `json:"level_db"`
	// DPrime and Detection are as of [audibility.Point].
	DPrime    float64 `json:"d_prime"`
	Detection float64 `json:"detection"`
	// Read tells that they are read from the curve between two renderings, see
	// [audibility.Finding.At].
	Read bool `json:"read,omitempty"`

	standard *audibility.Standard
}

// worst returns the prediction with the maximum d'.
func worst(list []Heard) Heard {
	return slices.MaxFunc(list, func(a, b Heard) int { return cmp.Compare(a.DPrime, b.DPrime) })
}

// How far the minimum current of the sweep lies under the optimum, or under the maximum
// where there is none: as far as audibility looks, and deeper until what is heard and may
// be chosen lies in the sweep. A stage in a loop is heard far under its optimum.
const (
	sweepDepth = 100
	deepSweep  = 1000
)

// sweep returns the currents of the sweep, those of audibility's lattice, so that its
// thresholds are found here as there; and as the first and last of them its range.
func sweep(optimum, maximum, depth float64) []float64 {
	if optimum <= 0 || optimum >= maximum {
		optimum = maximum
	}
	return audibility.Lattice(optimum/depth, maximum, audibility.DefaultPerDecade)
}

// shallow tells that a piece may have a threshold under the first current of the sweep:
// one that is heard without bias, or was not rendered so, and is not heard there.
func shallow(findings []audibility.Finding) bool {
	return slices.ContainsFunc(findings, func(f audibility.Finding) bool {
		limit := hearing.Sensitivity(f.Limit)
		for _, p := range f.Curve {
			switch {
			case p.Quiescent > 0:
				return p.DPrime <= limit
			case p.DPrime <= limit:
				return false
			}
		}
		return false
	})
}

// sweeps tells that the current that hearing asks for, with its interval, lies in a sweep
// that begins at a current, A, and every threshold too, or that no deeper one would find
// it.
func sweeps(findings []audibility.Finding, first float64) bool {
	if shallow(findings) {
		return false
	}
	minimum, asks, known := minimumInaudible(findings)
	if !known || asks == nil {
		return true
	}
	t := asks.Threshold
	return minimum > first && !(t != nil && t.Interval.Low > 0 && t.Interval.Low <= first)
}

// bench returns the bench that a stage's renderings and laws come from. Levels
// are matched by the best-fitting gain, so that a difference in level alone is no
// difference. A circuit with memory is rendered in time.
func (o *Options) bench(spec stage.Spec) (*render.Bench, error) {
	top := o.Levels[0]
	for _, l := range append(o.ToneLevels, o.Levels...) {
		top = max(top, l)
	}
	return render.NewBench(render.Options{
		Spec: spec, Drive: o.Drive, Levels: []level.DB{top}, Match: render.MatchGain, Solver: render.SolverAuto,
	})
}

// search is how the material is listened to between two currents.
func (o *Options) search(low, high float64, told func(done, total int)) audibility.Options {
	search := audibility.DefaultOptions(low, high)
	search.Heard, search.Limit, search.Workers, search.Progress, search.Standard = o.Heard, o.Limits.Detection, o.Workers, told, o.standard
	return search
}

// session opens all material at all levels for a search between two currents.
func (o *Options) session(bench *render.Bench, low, high float64, told func(done, total int)) (*audibility.Session, error) {
	cases, err := audibility.Cases(bench, o.Sources, o.Levels, nil)
	if err != nil {
		return nil, err
	}
	return audibility.NewSession(cases, o.search(low, high, told)), nil
}

// whole refuses findings one of which could not be made.
func whole(findings []audibility.Finding, err error) ([]audibility.Finding, error) {
	if err != nil {
		return nil, err
	}
	for _, f := range findings {
		if f.Error != "" {
			return nil, fmt.Errorf("%s: %s", f.Material, f.Error)
		}
	}
	return findings, nil
}

// hear predicts all material at all levels at one current.
func (o *Options) hear(ctx context.Context, bench *render.Bench, quiescent float64) ([]Heard, error) {
	session, err := o.session(bench, 0, 0, nil)
	if err != nil {
		return nil, err
	}
	findings, err := whole(session.At(ctx, []float64{quiescent}))
	if err != nil {
		return nil, err
	}
	heard, ok := heardAt(findings, quiescent)
	if !ok {
		return nil, fmt.Errorf("no rendering at %g A: %s", quiescent, reason(findings))
	}
	return heard, nil
}

// sensitivity is the d' of the limit of audibility.
func (o *Options) sensitivity() float64 { return hearing.Sensitivity(o.Limits.Detection) }

// heardAt reads the findings' curves at a current; false when one of them does not reach
// there, or has no rendering.
func heardAt(findings []audibility.Finding, quiescent float64) ([]Heard, bool) {
	list := make([]Heard, 0, len(findings))
	for i := range findings {
		f := &findings[i]
		p, read, ok := f.At(quiescent)
		if !ok {
			return nil, false
		}
		list = append(list, Heard{f.Material, f.Level, p.DPrime, p.Detection, read, p.Standard})
	}
	return list, len(list) > 0
}

// reason returns why there is no rendering.
func reason(findings []audibility.Finding) string {
	for _, f := range findings {
		for _, failure := range f.Failures {
			return failure.Reason
		}
	}
	return "unknown"
}
