package render

import "sync"

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
