package server

import (
	"context"
	"crypto/subtle"
	"net/http"
	"time"
)

// The page for whoever runs the panel shows who is where and no answers: a look at the
// results before the end is a stopping rule that nobody has written down. From there the
// panel is closed, for good.

// running lets those pass who have the key.
func (s *Server) running(f http.HandlerFunc) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		if s.config.RunKey == "" || subtle.ConstantTimeCompare([]byte(r.PathValue("key")), []byte(s.config.RunKey)) != 1 {
			refuse(w, r, http.StatusNotFound, "There is nothing here.")
			return
		}
		f(w, r)
	}
}

// runRow is one session on the page.
type runRow struct {
	*Session
	Answered, About int
	Last            time.Time // of the last answer, or the beginning
}

// State is where the listener is.
func (r runRow) State() string {
	switch {
	case !r.Finished.IsZero():
		return "finished"
	case r.LevelSet.IsZero():
		return "setting the level"
	case time.Since(r.Last) > 5*time.Minute:
		return "away"
	}
	return "listening"
}

type runPage struct {
	Title, Key string
	Plan       *Plan
	Rows       []runRow
	Finished   int // listeners who have finished all of a plan
	Kept       int // those of them who pass its criteria of exclusion
	Closed     string
	Made       time.Time
}

func (s *Server) getRun(w http.ResponseWriter, r *http.Request) {
	p := runPage{Title: s.config.Title, Key: s.config.RunKey, Plan: s.config.Plan, Closed: s.closedAt(), Made: time.Now()}
	sessions, err := s.store.Sessions(r.Context())
	if err != nil {
		fail(w, r, err)
		return
	}
	if p.Plan != nil {
		if p.Finished, p.Kept, err = s.finishedListeners(r.Context(), sessions); err != nil {
			fail(w, r, err)
			return
		}
	}
	for _, v := range sessions {
		row, err := s.runRow(r.Context(), v)
		if err != nil {
			fail(w, r, err)
			return
		}
		p.Rows = append(p.Rows, row)
	}
	s.page(w, http.StatusOK, "run", p)
}

func (s *Server) runRow(ctx context.Context, v *Session) (runRow, error) {
	row := runRow{Session: v, About: v.expected(), Last: v.Begun}
	var last string
	err := s.store.read.QueryRowContext(ctx, "SELECT count(*), coalesce(max(answered), '') FROM trial WHERE session = ? AND answered IS NOT NULL", v.ID).Scan(&row.Answered, &last)
	if err != nil {
		return row, classify(err)
	}
	if at, err := time.Parse(time.RFC3339Nano, last); err == nil {
		row.Last = at
	}
	row.About = max(row.About, row.Answered)
	return row, nil
}

// closedFact is the time at which the panel was closed.
const closedFact = "closed"

func (s *Server) postClose(w http.ResponseWriter, r *http.Request) {
	if _, err := s.store.fact(closedFact, stamp(time.Now())); err != nil {
		fail(w, r, err)
		return
	}
	s.closing.Store(nil)
	http.Redirect(w, r, "/run/"+s.config.RunKey, http.StatusSeeOther)
}

func (s *Server) closed() bool { return s.closedAt() != "" }

// closedAt is when the panel was closed, "" while it is open. Nobody but this server
// closes it.
func (s *Server) closedAt() string {
	if at := s.closing.Load(); at != nil {
		return *at
	}
	at, err := s.store.known(context.Background(), closedFact)
	if err != nil {
		return ""
	}
	s.closing.Store(&at)
	return at
}
