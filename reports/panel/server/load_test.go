package server

import (
	"cmp"
	"fmt"
	"maps"
	"os"
	"slices"
	"sync"
	"testing"
	"time"
)

// longLoad makes TestLoad run its whole two minutes.
const longLoad = "PANEL_LOAD_FULL"

// Forty listeners at once, each fetching its clips and answering: no answer is
// lost or doubled. The times are logged, not held.
func TestLoad(t *testing.T) {
	const listeners = 40
	span, pause := 2*time.Second, 20*time.Millisecond
	if os.Getenv(longLoad) != "" {
		span, pause = 2*time.Minute, time.Second // ten times quicker than people
	}
	settings := Defaults(Adaptive)
	settings.Trials = 400
	r := newRig(t, settings, nil)
	end := time.Now().Add(span)
	var all sync.Mutex
	answers, times := map[string]int{}, []time.Duration{}
	var group sync.WaitGroup
	for n := range listeners {
		c := newClient(r.http.URL)
		group.Go(func() {
			mine, took, err := c.listen(end, pause, n)
			if err != nil {
				t.Errorf("listener %d: %v", n, err)
			}
			all.Lock()
			defer all.Unlock()
			times = append(times, took...)
			maps.Copy(answers, mine)
		})
	}
	group.Wait()
	slices.Sort(times)
	at := func(p float64) time.Duration { return times[int(p*float64(len(times)-1))] }
	t.Logf("%d answers in %v: median %v, 99th percentile %v, longest %v", len(times), span, at(.5), at(.99), at(1))
	if len(answers) < listeners {
		t.Errorf("only %d answers", len(answers))
	}
	r.http.Close()
	r.store.Close()
	checkAnswers(t, r.store.Path(), answers)
}

// listen answers trials until the end and returns what was saved and how long
// each answer took.
func (c *client) listen(end time.Time, pause time.Duration, n int) (saved map[string]int, took []time.Duration, err error) {
	saved = map[string]int{}
	material := "Bowed chord"
	if n%2 == 0 {
		material = "Plucked line"
	}
	if err := c.begin(material); err != nil {
		return nil, nil, err
	}
	for time.Now().Before(end) {
		view, err := c.trial()
		if err != nil || view.Over {
			return saved, took, err
		}
		for _, clip := range view.Clips {
			if status, _, body, err := c.send("GET", "/clip/"+clip, "", ""); err != nil || status != 200 || len(body) != 3*view.Channels*view.Frames {
				return saved, took, fmt.Errorf("clip: %d, %d bytes, %w", status, len(body), err)
			}
		}
		time.Sleep(pause)
		choice := 1 + (n+len(took))%3
		start := time.Now()
		status, got, err := c.answer(view.Trial, choice)
		took = append(took, time.Since(start))
		if err != nil || status != 200 || !got.Saved {
			return saved, took, fmt.Errorf("answer: %d %w", status, cmp.Or(err, fmt.Errorf("not saved")))
		}
		saved[view.Trial] = choice
	}
	return saved, took, nil
}
