package server

import (
	"context"
	"time"
)

// stimulus is the open trial of a session with its sounds, all of them in
// the spool before the page learns of the trial: no clip takes longer than another.
type stimulus struct {
	trial  Trial
	sounds []*stored // one an item
}

// open returns the open trial of a session, making the next one when the last
// is answered, and nil when the session is over. The caller holds the session's
// lock.
func (s *Server) open(ctx context.Context, v *Session) (*stimulus, error) {
	trials, err := s.store.history(ctx, v.ID)
	if err != nil {
		return nil, err
	}
	if n := len(trials); n > 0 && trials[n-1].Open() {
		return s.restore(ctx, v, trials[n-1].Token)
	}
	way, err := s.advance(v, trials)
	if err != nil {
		return nil, err
	}
	if n := len(trials); n > 0 {
		if left := way.rest(&trials[n-1], time.Now()); left > 0 {
			return nil, resting(left)
		}
	}
	next, more := way.next()
	if !more {
		s.arrive(v.ID)
		return nil, s.store.finish(v.ID, time.Now())
	}
	made, err := s.compose(v, next)
	if err != nil {
		return nil, err
	}
	made.trial.Session, made.trial.Number, made.trial.Started = v.ID, len(trials)+1, time.Now()
	if err := s.store.addTrial(&made.trial); err != nil {
		return nil, err
	}
	s.keep(v.ID, made)
	s.lookAhead(way, made.trial)
	return made, nil
}

// resting is the time for which a listener still rests. It is no failure, but there is
// no trial.
type resting time.Duration

func (r resting) Error() string { return "a break" }

// advance returns how far a session has come, remembering it for the next time:
// only the newest answer has to be taken then.
func (s *Server) advance(v *Session, answered []Trial) (*progress, error) {
	s.mu.Lock()
	way := s.ways[v.ID]
	s.mu.Unlock()
	if way == nil || way.taken > len(answered) {
		var err error
		if way, err = v.newProgress(); err != nil {
			return nil, err
		}
	}
	for i := way.taken; i < len(answered); i++ {
		way.take(&answered[i])
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.ways[v.ID] = way
	return way, nil
}

// arrive forgets the way of a session that is over.
func (s *Server) arrive(session int64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.ways, session)
}

// lookAhead renders in the background what the next trial will need after either
// answer to the open one, while the listener listens to it. It gives way when
// somebody else's next trial is being rendered.
func (s *Server) lookAhead(way *progress, open Trial) {
	if !s.farsight.Load() {
		return
	}
	select {
	case s.ahead <- struct{}{}:
		right, wrong := way.clone(), way.clone()
		go func() {
			defer func() { <-s.ahead }()
			for choice, after := range []*progress{right, wrong} {
				open.Choice = open.Odd + choice
				after.take(&open)
				s.renderFor(after)
			}
		}()
	default:
	}
}

func (s *Server) renderFor(p *progress) {
	next, more := p.next()
	if !more || next.kind == GradedKind || next.kind == GradedTry || next.kind == CatchNull {
		return
	}
	// A failure is met again, and told, when the trial comes.
	s.ladders[p.session.Material].at(next.level)
}

// restore returns the sounds of a stored open trial, from memory or rendered
// again after a restart.
func (s *Server) restore(ctx context.Context, v *Session, token string) (*stimulus, error) {
	if kept := s.kept(v.ID); kept != nil && kept.trial.Token == token {
		return kept, nil
	}
	t, err := s.store.trial(ctx, v.ID, token)
	if err != nil {
		return nil, err
	}
	l := s.ladders[v.Material]
	made := &stimulus{trial: *t}
	for _, i := range t.Items {
		if i.Role == Reference || i.Role == Hidden {
			made.sounds = append(made.sounds, l.played)
			continue
		}
		_, sound, err := l.current(i.Rung.Quiescent)
		if err != nil {
			return nil, err
		}
		made.sounds = append(made.sounds, sound)
	}
	s.keep(v.ID, made)
	return made, nil
}

// compose draws a trial: its rung, its order and its names.
func (s *Server) compose(v *Session, next step) (*stimulus, error) {
	l := s.ladders[v.Material]
	if next.kind == GradedKind || next.kind == GradedTry {
		return composeGraded(v, next, l)
	}
	made := &stimulus{trial: Trial{Token: token(), Kind: next.kind, Target: next.level}}
	rendered := l.played
	if next.kind != CatchNull {
		var err error
		if v.Settings.Method == Triangle && next.kind == Test {
			made.trial.Rung, rendered, err = l.current(v.Settings.Quiescent)
			made.trial.Target = float64(made.trial.Rung.Residual)
		} else {
			made.trial.Rung, rendered, err = l.at(next.level)
		}
		if err != nil {
			return nil, err
		}
	}
	made.trial.Odd = 1 + below(3)
	// The odd one is as often the reference as the rendering.
	oddRendered := below(2) == 0
	for position := 1; position <= 3; position++ {
		item := Item{Position: position, Token: token(), Seed: seed(), Role: Reference}
		sound := l.played
		if (position == made.trial.Odd) == oddRendered && next.kind != CatchNull {
			item.Role, item.Rung, sound = Rendered, made.trial.Rung, rendered
		}
		made.trial.Items = append(made.trial.Items, item)
		made.sounds = append(made.sounds, sound)
	}
	return made, nil
}

// gradedItems are the items that are graded beside the hidden reference, by the place of
// their rung between the minimum residual and the largest difference.
var gradedItems = [...]struct {
	role  Role
	share float64
}{{Rendered, 0.25}, {Rendered, 0.5}, {MidAnchor, 0.75}, {Anchor, 1}}

// composeGraded draws a trial of grades: the open reference, and in random order the
// hidden reference and either one item (triple stimulus) or all of them.
func composeGraded(v *Session, next step, l *ladder) (*stimulus, error) {
	type entry struct {
		item  Item
		sound *stored
	}
	entries := []entry{{Item{Role: Hidden}, l.played}}
	for i, g := range gradedItems {
		if v.Settings.Method == Graded && i != next.object {
			continue
		}
		rung, sound, err := l.at(v.Lo + g.share*(v.Hi-v.Lo))
		if err != nil {
			return nil, err
		}
		entries = append(entries, entry{Item{Role: g.role, Rung: rung}, sound})
	}
	shuffle(entries)
	entries = append([]entry{{Item{Role: Reference}, l.played}}, entries...)
	made := &stimulus{trial: Trial{Token: token(), Kind: next.kind}}
	for position, e := range entries {
		e.item.Position, e.item.Token, e.item.Seed = position, token(), seed()
		made.trial.Items = append(made.trial.Items, e.item)
		made.sounds = append(made.sounds, e.sound)
	}
	return made, nil
}
