package render

import (
	"context"
	"fmt"

	"golang.org/x/sync/errgroup"

	"quietcross/corpus/bias"
	"quietcross/dsp/shape"
	"quietcross/stage"
)

// A rung is one bias setting, as the passes through it need it.
type rung struct {
	*bias.Evaluation
	id    string
	law   *shape.Law  // nil unless solved statically
	power *powerTable // nil unless solved statically and asked for
	// settled is the stage warmed up with no signal, nil unless bias drifts.
	settled *stage.Settled
}

// record is the rung as results carry it.
func (r *rung) record() bias.Rung {
	record := r.Rung
	record.ID = r.id
	return record
}

// solving says how rungs are made ready for passes.
type solving struct {
	ladder *bias.Ladder
	solver Solver
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
				return fmt.Errorf("bias %w", err)
			}
			r.id = rungName(i, setting)
			rungs[i] = r
			return nil
		})
	}
	return rungs, group.Wait()
}

// rung solves the stage at one setting.
func (s *solving) rung(setting stage.Setting) (r rung, err error) {
	if r.Evaluation, err = s.ladder.At(setting); err != nil {
		return r, err
	}
	if s.drift {
		settled, err := s.ladder.Stage().Settle(setting, 0)
		if err != nil {
			return r, err
		}
		r.settled = &settled
	}
	if s.solver != SolverStatic {
		return r, nil
	}
	if r.law, err = r.Law(s.hi, s.tolerance); err != nil {
		return r, err
	}
	if s.powers {
		r.power, err = newPowerTable(r.Biased(), s.hi)
	}
	return r, err
}
