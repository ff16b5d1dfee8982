package server

import (
	"context"
	"encoding/json"
	"errors"
	"io"
	"math"
	"mime"
	"net/http"
	"slices"
	"time"
)

// trialView is all that the page learns of an open trial. Catch trials look
// like any other.
type trialView struct {
	Over     bool     `json:"over"`
	Rest     float64  `json:"rest,omitempty"` // s to the next trial: a break
	Listen   float64  `json:"listen"`         // s for which each clip must be heard
	Trial    string   `json:"trial,omitempty"`
	Number   int      `json:"number,omitempty"`
	About    int      `json:"about,omitempty"` // how many there will be, about
	Practice bool     `json:"practice,omitempty"`
	Graded   bool     `json:"graded,omitempty"`
	Triple   bool     `json:"triple,omitempty"` // one of the two grades must be 5.0
	Rate     int      `json:"rate,omitempty"`
	Channels int      `json:"channels,omitempty"`
	Frames   int      `json:"frames,omitempty"`
	Clips    []string `json:"clips,omitempty"`
}

func (s *Server) getTrial(w http.ResponseWriter, r *http.Request, v *Session) {
	if v.LevelSet.IsZero() {
		refuse(w, r, http.StatusConflict, "Set the level first.")
		return
	}
	defer s.lock(v.ID)()
	made, err := s.open(context.WithoutCancel(r.Context()), v)
	var rest resting
	if errors.As(err, &rest) {
		reply(w, trialView{Rest: time.Duration(rest).Seconds()})
		return
	}
	if err != nil {
		fail(w, r, err)
		return
	}
	if made == nil {
		reply(w, trialView{Over: true})
		return
	}
	t := &made.trial
	view := trialView{
		Trial: t.Token, Number: t.Number, About: max(v.expected(), t.Number), Practice: t.Kind == Practice || t.Kind == GradedTry,
		Graded: t.graded(), Triple: t.triple(), Rate: v.ClipRate, Listen: v.leastHeard(made.sounds[0].frames),
		Channels: made.sounds[0].channels, Frames: made.sounds[0].frames,
	}
	for _, i := range t.Items {
		view.Clips = append(view.Clips, i.Token)
	}
	reply(w, view)
}

// forget drops the sounds of an answered trial.
func (s *Server) forget(session int64) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.live, session)
}

func reply(w http.ResponseWriter, v any) {
	w.Header().Set("Content-Type", "application/json")
	json.NewEncoder(w).Encode(v)
}

// getClip sends a clip of the session's open trial and of no other.
func (s *Server) getClip(w http.ResponseWriter, r *http.Request, v *Session) {
	clip, seed, err := s.clip(r.Context(), v, r.PathValue("token"))
	if err != nil {
		fail(w, r, err)
		return
	}
	s.writeClip(w, clip, v.Gain.Amplitude(), seed)
}

func (s *Server) clip(ctx context.Context, v *Session, token string) (*stored, uint64, error) {
	defer s.lock(v.ID)()
	made := s.kept(v.ID)
	if made == nil { // after a restart
		trials, err := s.store.history(ctx, v.ID)
		if err != nil {
			return nil, 0, err
		}
		n := len(trials)
		if n == 0 || !trials[n-1].Open() {
			return nil, 0, ErrUnknown
		}
		if made, err = s.restore(ctx, v, trials[n-1].Token); err != nil {
			return nil, 0, err
		}
	}
	for i, item := range made.trial.Items {
		if item.Token == token {
			return made.sounds[i], item.Seed, nil
		}
	}
	return nil, 0, ErrUnknown
}

// given is an answer as the page sends it.
type given struct {
	Trial  string    `json:"trial"`
	Choice int       `json:"choice"`
	Grades []float64 `json:"grades"`
	// Heard is how long each clip was heard, s, and Switches how often the listener went
	// from one to another.
	Heard    []float64 `json:"heard"`
	Switches int       `json:"switches"`
}

// leastHeard is how long each clip must be heard before an answer, s.
func (s *Session) leastHeard(frames int) float64 {
	return min(s.Settings.Listen, float64(frames)/float64(s.ClipRate))
}

// saved is the receipt: it is sent after the answer is on the disk. The key of
// a practice trial comes with it, of no other.
type saved struct {
	Saved bool  `json:"saved"`
	Odd   int   `json:"odd,omitempty"`
	Right *bool `json:"right,omitempty"`
	Low   int   `json:"low,omitempty"` // graded practice: the largest difference there; Odd is the hidden reference
}

func positionOf(t *Trial, role Role) int {
	return slices.IndexFunc(t.Items, func(i Item) bool { return i.Role == role })
}

// largest is the position of the largest difference of a graded trial.
func largest(t *Trial) int {
	if t.triple() {
		return 3 - positionOf(t, Hidden)
	}
	return positionOf(t, Anchor)
}

var (
	errForm  = errors.New("malformed")
	errFive  = errors.New("none taken for the reference")
	errHeard = errors.New("not heard long enough")
)

func (s *Server) postAnswer(w http.ResponseWriter, r *http.Request, v *Session) {
	var a given
	if !decode(w, r, &a) {
		return
	}
	defer s.lock(v.ID)()
	// A listener who leaves while the answer is being written has answered.
	t, err := s.settle(context.WithoutCancel(r.Context()), v, a)
	if err == nil {
		s.forget(v.ID) // its clips are served no more
	}
	switch {
	case errors.Is(err, errForm):
		refuse(w, r, http.StatusBadRequest, "The answer does not fit the trial.")
	case errors.Is(err, errFive):
		refuse(w, r, http.StatusBadRequest, "One of the two is the reference: give it 5.0.")
	case errors.Is(err, errHeard):
		refuse(w, r, http.StatusBadRequest, "Hear every interval a little longer before you answer.")
	case err != nil:
		fail(w, r, err)
	case t.Kind == GradedTry:
		reply(w, saved{Saved: true, Odd: positionOf(t, Hidden), Low: largest(t)})
	case t.Kind == Practice:
		right := a.Choice == t.Odd
		reply(w, saved{Saved: true, Odd: t.Odd, Right: &right})
	default:
		reply(w, saved{Saved: true})
	}
}

// settle makes an answer final.
func (s *Server) settle(ctx context.Context, v *Session, a given) (*Trial, error) {
	t, err := s.asked(ctx, v, a.Trial)
	if err != nil {
		return nil, err
	}
	if err := fits(t, a); err != nil {
		return nil, err
	}
	if t.Open() { // an answer that is repeated was checked before
		if err := s.heard(v, t, a, time.Now()); err != nil {
			return nil, err
		}
	}
	how := attempt{a.Heard, a.Switches}
	if t.graded() {
		return t, s.store.grade(t.ID, a.Grades, how, time.Now())
	}
	return t, s.store.answer(t.ID, a.Choice, how, time.Now())
}

// asked is the trial that an answer names, from memory when it is the open one.
func (s *Server) asked(ctx context.Context, v *Session, token string) (*Trial, error) {
	if made := s.kept(v.ID); made != nil && made.trial.Token == token {
		t := made.trial
		return &t, nil
	}
	return s.store.trial(ctx, v.ID, token)
}

// heardSlack is what clocks and rounding may take from the time a clip was heard, s.
const heardSlack = 0.05

// heard checks that every clip was heard as long as it must, by the page's account and
// by the time that has passed.
func (s *Server) heard(v *Session, t *Trial, a given, now time.Time) error {
	if v.Settings.Listen == 0 {
		return nil
	}
	least := v.leastHeard(s.ladders[v.Material].ref.frames()) - heardSlack
	if len(a.Heard) != len(t.Items) || now.Sub(t.Started).Seconds() < least*float64(len(t.Items)) {
		return errHeard
	}
	for _, h := range a.Heard {
		if !(h >= least) {
			return errHeard
		}
	}
	return nil
}

// fits checks an answer against the form of its trial: one of three intervals,
// or a grade from 1.0 to 5.0 in tenths for each item.
func fits(t *Trial, a given) error {
	if len(a.Heard) > len(t.Items) || a.Switches < 0 || a.Switches > 1e6 || slices.ContainsFunc(a.Heard, func(h float64) bool { return !(h >= 0 && h < 1e6) }) {
		return errForm
	}
	if !t.graded() {
		if a.Choice < 1 || a.Choice > 3 || a.Grades != nil {
			return errForm
		}
		return nil
	}
	if a.Choice != 0 || len(a.Grades) != len(t.Items)-1 {
		return errForm
	}
	for i, g := range a.Grades {
		if !(g >= 1 && g <= 5) || math.Abs(g*10-math.Round(g*10)) > 1e-6 {
			return errForm
		}
		a.Grades[i] = math.Round(g*10) / 10
	}
	if t.triple() && slices.Max(a.Grades) != 5 {
		return errFive
	}
	return nil
}

func (s *Server) postRates(w http.ResponseWriter, r *http.Request, v *Session) {
	var rates struct {
		Played int `json:"played"`
		Device int `json:"device"`
	}
	if !decode(w, r, &rates) {
		return
	}
	if legal := func(hz int) bool { return hz >= 3000 && hz <= 768000 }; !legal(rates.Played) || !legal(rates.Device) {
		refuse(w, r, http.StatusBadRequest, "The rates are not those of an audio device.")
		return
	}
	if err := s.store.setRates(v.ID, rates.Played, rates.Device); err != nil {
		fail(w, r, err)
		return
	}
	reply(w, saved{Saved: true})
}

// decode reads one JSON object without unknown keys; it answers itself when it
// cannot.
func decode(w http.ResponseWriter, r *http.Request, dst any) bool {
	if kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type")); kind != "application/json" {
		refuse(w, r, http.StatusUnsupportedMediaType, "Send application/json.")
		return false
	}
	d := json.NewDecoder(r.Body)
	d.DisallowUnknownFields()
	err := d.Decode(dst)
	if err == nil {
		if _, err = d.Token(); err == io.EOF {
			return true
		}
	}
	var large *http.MaxBytesError
	if errors.As(err, &large) {
		fail(w, r, err)
		return false
	}
	refuse(w, r, http.StatusBadRequest, "The request is not understood.")
	return false
}

// postNoise takes the page's word that the reference noise was played, as far as the
// time since it was fetched allows.
func (s *Server) postNoise(w http.ResponseWriter, r *http.Request, v *Session) {
	var played struct {
		Seconds float64 `json:"seconds"`
	}
	if !decode(w, r, &played) {
		return
	}
	s.mu.Lock()
	fetched, ok := s.fetched[v.ID]
	s.mu.Unlock()
	if !ok || !(played.Seconds >= 0) || played.Seconds > time.Since(fetched).Seconds()+heardSlack {
		refuse(w, r, http.StatusConflict, "The noise was not played that long.")
		return
	}
	if err := s.store.hearNoise(v.ID, played.Seconds); err != nil {
		fail(w, r, err)
		return
	}
	reply(w, saved{Saved: true})
}
