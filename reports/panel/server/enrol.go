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
		if err := s.assign(v, sessions); err != nil {
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
func (s *Server) assign(v *Session, sessions []*Session) error {
	own, most := 0, 0
	for _, other := range sessions {
		most = max(most, other.Listener)
		if v.Listener != 0 && other.Listener == v.Listener {
			own = max(own, other.Part)
		}
	}
	plan := s.config.Plan
	if v.Listener == 0 {
		if n := s.finishedListeners(sessions); plan.Listeners > 0 && n >= plan.Listeners {
			return fmt.Errorf("%w: the study is complete: %d listeners have finished. Thank you for coming", ErrNotNow, n)
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

// finishedListeners counts who has finished all parts of the plan.
func (s *Server) finishedListeners(sessions []*Session) int {
	parts := map[int]int{}
	for _, v := range sessions {
		if v.Listener != 0 && !v.Finished.IsZero() {
			parts[v.Listener]++
		}
	}
	n := 0
	for _, done := range parts {
		if done >= len(s.materials) {
			n++
		}
	}
	return n
}
