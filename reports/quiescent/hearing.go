package quiescent

import (
	"context"
	"fmt"

	"quietcross/corpus/render"
	"quietcross/dsp/level"
	"quietcross/reports/audibility"
	"quietcross/stage"
)

// Heard is what is predicted of one piece at one level.
type Heard struct {
	Material    string   `json:"material"`
	Level       level.DB `json:"level_db"`
	Detection   float64  `json:"detection"`
	NoiseToMask level.DB `json:"noise_to_mask_db"`
}

// worst returns the most probable detection, of equal ones the one with the
// maximum noise-to-mask ratio.
func worst(list []Heard) Heard {
	most := list[0]
	for _, h := range list[1:] {
		if h.Detection > most.Detection || h.Detection == most.Detection && h.NoiseToMask > most.NoiseToMask {
			most = h
		}
	}
	return most
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

// listen searches all material at all levels between two currents.
func (o *Options) listen(ctx context.Context, bench *render.Bench, low, high float64, points int, zero bool, told func(done, total int)) ([]audibility.Finding, error) {
	cases, err := audibility.Cases(bench, o.Sources, o.Levels, nil)
	if err != nil {
		return nil, err
	}
	search := audibility.DefaultOptions(low, high)
	search.Playback, search.Points, search.Zero = o.Playback, points, zero
	search.Limit, search.Workers, search.Progress = o.Limits.Detection, o.Workers, told
	findings, err := audibility.Run(ctx, cases, search)
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

// nearly is the ratio between the two currents that a search at one current is
// made of.
const nearly = 1 + 1e-9

// hear predicts all material at all levels at one current.
func (o *Options) hear(ctx context.Context, bench *render.Bench, quiescent float64) ([]Heard, error) {
	findings, err := o.listen(ctx, bench, quiescent, quiescent*nearly, 2, false, nil)
	if err != nil {
		return nil, err
	}
	heard, ok := heardAt(findings, quiescent)
	if !ok {
		return nil, fmt.Errorf("no rendering at %g A: %s", quiescent, reason(findings))
	}
	return heard, nil
}

// heardAt picks a current out of the findings' curves; false when one of them
// has no rendering there.
func heardAt(findings []audibility.Finding, quiescent float64) ([]Heard, bool) {
	var list []Heard
	for _, f := range findings {
		for _, p := range f.Curve {
			if p.Quiescent == quiescent {
				list = append(list, Heard{f.Material, f.Level, p.Detection, p.NoiseToMask})
				break
			}
		}
	}
	return list, len(list) > 0 && len(list) == len(findings)
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
