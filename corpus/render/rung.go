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
	biased *stage.Biased
	law    *shape.Law  // nil unless solved statically
	power  *powerTable // nil unless solved statically and asked for
	// settled is the stage warmed up with no signal, nil unless bias drifts.
	settled *stage.Settled
}

// The maximum error of a fitted law relative to the range over which it is
// solved; about rest it is a thousand times as tight. Ten times less gains a
// rendering 2 dB of error at full level, where the filters' ripple takes over, and
// costs it a quarter of the shaper's speed. A bench's laws are also measured
// directly, where a microvolt counts.
const (
	renderTolerance = 1e-7
	benchTolerance  = 1e-9
)

// solving says how rungs are solved.
type solving struct {
	stage  *stage.Stage
	solver Solver
	drive  float64 // V peak
	hi     float64 // laws cover inputs from -hi to hi, V
	// tolerance is that of the laws.
	tolerance float64
	powers    bool // asks for power tables
	drift     bool // asks for the temperatures that drift begins from
}

// rungs solves the stage at every setting.
func (s *solving) rungs(ctx context.Context, settings []stage.Setting, workers int) ([]rung, error) {
	rungs := make([]rung, len(settings))
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(workers)
	for i, setting := range settings {
		group.Go(func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			r, err := s.rung(setting)
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

// rung solves the stage at one setting.
func (s *solving) rung(setting stage.Setting) (rung, error) {
	biased, err := s.stage.Set(setting)
	if err != nil {
		return rung{}, err
	}
	r := rung{biased: biased}
	if r.Rung, err = describeRung(biased, s.drive); err != nil {
		return rung{}, err
	}
	if s.drift {
		settled, err := s.stage.Settle(setting, 0)
		if err != nil {
			return rung{}, err
		}
		r.settled = &settled
	}
	if s.solver != SolverStatic {
		return r, nil
	}
	if r.law, err = s.midband(biased); err != nil {
		return rung{}, err
	}
	if s.powers {
		r.power, err = newPowerTable(biased, s.hi)
	}
	return r, err
}

// midband fits the midband law of a bias.
func (s *solving) midband(biased *stage.Biased) (*shape.Law, error) {
	return shape.Fit(biased.Transfer, -s.hi, s.hi, s.tolerance*s.hi)
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
