package render

import (
	"context"
	"fmt"
	"math"

	"golang.org/x/sync/errgroup"

	"quietcross/corpus"
	"quietcross/dsp/shape"
	"quietcross/stage"
)

// A rung is one bias setting, solved.
type rung struct {
	corpus.Rung
	law *shape.Law
}

// lawTolerance is the greatest error of a fitted law relative to the range
// over which it is solved.
const lawTolerance = 1e-9

// solveRungs solves the stage at every setting over inputs from -hi to hi.
func solveRungs(ctx context.Context, st *stage.Stage, settings []stage.Setting, drive, hi float64, workers int) ([]rung, error) {
	rungs := make([]rung, len(settings))
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(workers)
	for i, setting := range settings {
		group.Go(func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			r, err := solveRung(st, setting, drive, hi)
			if err != nil {
				return fmt.Errorf("bias %s: %w", setting, err)
			}
			r.ID = rungName(i, setting)
			rungs[i] = r
			return nil
		})
	}
	return rungs, group.Wait()
}

// solveRung solves the stage at one setting.
func solveRung(st *stage.Stage, setting stage.Setting, drive, hi float64) (rung, error) {
	biased, err := st.Set(setting)
	if err != nil {
		return rung{}, err
	}
	described, err := describeRung(biased, drive)
	if err != nil {
		return rung{}, err
	}
	law, err := shape.Fit(biased.Transfer, -hi, hi, lawTolerance*hi)
	if err != nil {
		return rung{}, err
	}
	return rung{Rung: described, law: law}, nil
}

// optimumWithin is how near the optimum a quiescent current counts as being it.
const optimumWithin = 0.02

// describeRung says what the setting gives at rest and at the drive's peak.
func describeRung(b *stage.Biased, drive float64) (corpus.Rung, error) {
	point := b.Point()
	r := corpus.Rung{
		Setting:         b.Setting().Mode(),
		Value:           b.Setting().Value(),
		Bias:            point.Bias,
		Quiescent:       point.Quiescent,
		IdleDissipation: point.SupplyPower,
	}
	if optimum := b.Stage().OptimumQuiescent(); optimum > 0 {
		r.Optimum = math.Abs(point.Quiescent/optimum-1) < optimumWithin
	}
	r.ClipLow, r.ClipHigh = b.Clip()
	crossover, err := b.Crossover()
	if err != nil {
		return r, err
	}
	r.CrossoverWidth = crossover.Width
	if _, r.GainAtZero, err = b.Transfer(0); err != nil {
		return r, err
	}
	_, r.GainAtSwing, err = b.Transfer(drive)
	return r, err
}
