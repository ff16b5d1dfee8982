package audibility

import (
	"context"
	"sync"
)

// Run searches cases in parallel. Findings stand in the order of the cases and
// are the same for any number of workers. The error is that of the options or of
// a context that has ended; a case that cannot be opened has its error in its
// finding.
func Run(ctx context.Context, cases []Case, o Options) ([]Finding, error) {
	if err := o.Check(); err != nil {
		return nil, err
	}
	return all(ctx, cases, o, func(c Case) (Finding, error) { return Examine(ctx, c, o) })
}

// RunAt is [Run] for [ExamineAt].
func RunAt(ctx context.Context, cases []Case, currents []float64, o Options) ([]Finding, error) {
	if err := o.checkHearing(); err != nil {
		return nil, err
	}
	return all(ctx, cases, o, func(c Case) (Finding, error) { return ExamineAt(ctx, c, currents, o) })
}

// all examines cases in parallel.
func all(ctx context.Context, cases []Case, o Options, examine func(Case) (Finding, error)) ([]Finding, error) {
	findings := make([]Finding, len(cases))
	next := make(chan int)
	var done counter
	var group sync.WaitGroup
	for range min(o.Workers, len(cases)) {
		group.Go(func() {
			for i := range next {
				findings[i], _ = examine(cases[i]) // its error is ctx's, returned below
				done.tell(o.Progress, len(cases))
			}
		})
	}
	for i := range cases {
		if ctx.Err() != nil {
			break
		}
		next <- i
	}
	close(next)
	group.Wait()
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return findings, nil
}

// counter counts finished cases.
type counter struct {
	mutex sync.Mutex
	done  int
}

func (c *counter) tell(progress func(done, total int), total int) {
	c.mutex.Lock()
	defer c.mutex.Unlock()
	c.done++
	if progress != nil {
		progress(c.done, total)
	}
}
