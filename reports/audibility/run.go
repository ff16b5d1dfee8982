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
	o.cases = len(cases)
	return all(ctx, cases, o, func(c Case) (Finding, error) { return Examine(ctx, c, o) })
}

// all examines cases in parallel.
func all(ctx context.Context, cases []Case, o Options, examine func(Case) (Finding, error)) ([]Finding, error) {
	findings := make([]Finding, len(cases))
	err := eachOf(ctx, len(cases), o, func(i int) { findings[i], _ = examine(cases[i]) }) // its error is ctx's
	if err != nil {
		return nil, err
	}
	return findings, nil
}

// eachOf works on so many cases in parallel, and tells of each that is done.
func eachOf(ctx context.Context, cases int, o Options, work func(i int)) error {
	next := make(chan int)
	var done counter
	var group sync.WaitGroup
	for range min(o.Workers, cases) {
		group.Go(func() {
			for i := range next {
				work(i)
				done.tell(o.Progress, cases)
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
	return ctx.Err()
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
