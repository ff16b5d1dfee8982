package server

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"
)

// A listener begins with a material of the listener's own choice, or with the next of
// those that a plan has laid down. A listener is known by the code in the browser's last
// session.

// ErrNotNow: the listener cannot begin; the text says why, to the listener.
var ErrNotNow = errors.New("not now")

// newcomer is what a listener brings.
type newcomer struct {
	last     *Session // the listener's last session, nil for somebody new
	material string   // chosen; no meaning with a plan
	name     string
}

// newSession begins the next session of a listener.
func (s *Server) newSession(ctx context.Context, who newcomer) (*Session, error) {
	s.enrolling.Lock()
	defer s.enrolling.Unlock()
	v := &Session{
		Token: token(), Name: who.name, Material: who.material, Settings: s.config.Settings,
		Seed: seed(), Title: s.config.Title, SetHash: s.config.SetHash, Version: s.config.Version,
		SetSeed: s.config.SetSeed, Begun: time.Now(), Consented: time.Now(), Gain: s.level.gain,
	}
	if who.last != nil {
		v.Code, v.Name, v.Listener = who.last.Code, who.last.Name, who.last.Listener
	}
	sessions, err := s.store.Sessions(ctx)
	if err != nil {
		return nil, err
	}
	if s.config.Plan != nil {
		if err := s.assign(ctx, v, sessions); err != nil {
			return nil, err
		}
	}
	if !slices.Contains(s.materials, v.Material) || s.ladders[v.Material].why() != nil {
		return nil, fmt.Errorf("%w material %q", ErrUnknown, v.Material)
	}
	l := s.ladders[v.Material]
	dither := ditherLevel(l.ref, v.Gain)
	v.Stimulus, v.ClipRate, v.Dither = l.stimulus, l.rate, &dither
	v.Lo, v.Hi = l.ends()
	v.Lo = min(max(v.Lo, float64(dither)), v.Hi-minimumRange) // nothing is looked for under the dither
	if v.Code == "" {
		v.Code = freeCode(sessions)
	}
	return v, s.store.addSession(v)
}

// freeCode is a code that nobody has.
func freeCode(sessions []*Session) string {
	for n := 4; ; n = 5 { // the short ones may run out
		c := Code(n)
		if !slices.ContainsFunc(sessions, func(v *Session) bool { return v.Code == c }) {
			return c
		}
	}
}

// assign gives a session its place in the plan.
func (s *Server) assign(ctx context.Context, v *Session, sessions []*Session) error {
	own, most := 0, 0
	for _, other := range sessions {
		most = max(most, other.Listener)
		if v.Listener != 0 && other.Listener == v.Listener {
			own = max(own, other.Part)
		}
	}
	plan := s.config.Plan
	if v.Listener == 0 {
		if plan.Listeners > 0 {
			_, kept, err := s.finishedListeners(ctx, sessions)
			if err != nil {
				return err
			}
			if kept >= plan.Listeners {
				return fmt.Errorf("%w: the study is complete. Thank you for coming", ErrNotNow)
			}
		}
		v.Listener = most + 1
	}
	if own == len(s.materials) {
		return fmt.Errorf("%w: you have heard everything there is. Thank you", ErrNotNow)
	}
	if wait := s.untilNext(v.Listener, own, sessions); wait > 0 {
		return fmt.Errorf("%w: the next sitting begins in %v at the earliest; your place is kept in this browser", ErrNotNow, wait.Round(time.Minute)+time.Minute)
	}
	v.Part = own + 1
	v.Material = plan.orderOf(v.Listener, s.materials)[own]
	return nil
}

// untilNext is how long a listener who has finished some parts still pauses.
func (s *Server) untilNext(listener, finished int, sessions []*Session) time.Duration {
	plan := s.config.Plan
	if plan.Sitting == 0 || finished == 0 || finished%plan.Sitting != 0 {
		return 0
	}
	var last time.Time
	for _, v := range sessions {
		if v.Listener == listener && v.Finished.After(last) {
			last = v.Finished
		}
	}
	return time.Until(last.Add(plan.Pause))
}

// finishedListeners counts who has finished all parts of the plan, and who of them passes
// its criteria of exclusion in every part: they end the study, and not those who are left
// out in the end.
func (s *Server) finishedListeners(ctx context.Context, sessions []*Session) (finished, kept int, err error) {
	type progress struct{ parts, passed int }
	listeners := map[int]progress{}
	for _, v := range sessions {
		if v.Listener == 0 || v.Finished.IsZero() {
			continue
		}
		passed, err := s.passes(ctx, v)
		if err != nil {
			return 0, 0, err
		}
		p := listeners[v.Listener]
		p.parts++
		if passed {
			p.passed++
		}
		listeners[v.Listener] = p
	}
	for _, p := range listeners {
		if p.parts >= len(s.materials) {
			finished++
		}
		if p.passed >= len(s.materials) {
			kept++
		}
	}
	return finished, kept, nil
}

// passes reports whether a finished session passes the criteria of exclusion. It is worked
// out once: nothing in it changes any more.
func (s *Server) passes(ctx context.Context, v *Session) (bool, error) {
	s.mu.Lock()
	known, ok := s.passed[v.ID]
	s.mu.Unlock()
	if ok {
		return known, nil
	}
	l := ListenerResult{Session: v}
	var err error
	if l.Trials, err = s.store.Trials(ctx, v.ID); err != nil {
		return false, err
	}
	if v.Settings.Graded() {
		l.screenGrades()
	} else {
		l.judge()
		l.screenCatches()
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.passed[v.ID] = l.Kept
	return l.Kept, nil
}
