package server

import (
	"bytes"
	"cmp"
	"embed"
	"errors"
	"fmt"
	"html/template"
	"math"
	"net/http"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

//go:embed web
var web embed.FS

var templates = template.Must(template.New("").Funcs(formatters).ParseFS(web, "web/*.html"))

// routes are the pages and the calls of their script.
func (s *Server) routes() http.Handler {
	mux := http.NewServeMux()
	mux.HandleFunc("GET /{$}", s.getStart)
	mux.HandleFunc("GET /join", func(w http.ResponseWriter, _ *http.Request) { s.page(w, http.StatusOK, "join", joinPage{}) })
	mux.HandleFunc("POST /join", s.postJoin)
	mux.HandleFunc("POST /begin", s.postBegin)
	mux.HandleFunc("GET /level", s.within(s.getLevel))
	mux.HandleFunc("POST /level", s.within(s.postLevel))
	mux.HandleFunc("GET /listen", s.within(s.getListen))
	mux.HandleFunc("GET /over", s.within(s.getOver))
	mux.HandleFunc("GET /noise", s.within(s.getNoise))
	mux.HandleFunc("POST /noise", s.within(s.postNoise))
	mux.HandleFunc("GET /run/{key}", s.running(s.getRun))
	mux.HandleFunc("POST /run/{key}/close", s.running(s.postClose))
	mux.HandleFunc("GET /trial", s.within(s.getTrial))
	mux.HandleFunc("GET /clip/{token}", s.within(s.getClip))
	mux.HandleFunc("POST /answer", s.within(s.postAnswer))
	mux.HandleFunc("POST /rates", s.within(s.postRates))
	for _, name := range []string{"panel.css", "panel.js"} {
		mux.HandleFunc("GET /"+name, func(w http.ResponseWriter, r *http.Request) {
			http.ServeFileFS(w, r, web, "web/"+name)
		})
	}
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		refuse(w, r, http.StatusNotFound, "There is nothing here.")
	})
	return mux
}

// within passes the browser's session on, or sends it to the start.
func (s *Server) within(f func(http.ResponseWriter, *http.Request, *Session)) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		v, err := s.current(r)
		switch {
		case err != nil:
			fail(w, r, err)
		case v == nil && r.Method == http.MethodGet && wantsPage(r):
			http.Redirect(w, r, "/", http.StatusSeeOther)
		case s.closed() && r.URL.Path != "/over":
			refuse(w, r, http.StatusGone, "The panel is closed. Thank you for listening; all that you answered is kept.")
		case v == nil:
			refuse(w, r, http.StatusUnauthorized, "This browser has no session here. Begin on the start page.")
		default:
			f(w, r, v)
		}
	}
}

// current returns the session of the browser's cookie, nil when there is none. A
// session of another stimulus cannot go on here.
func (s *Server) current(r *http.Request) (*Session, error) {
	v, err := s.remembered(r)
	if v == nil || err != nil || !s.await(r.Context()) || v.Stimulus != s.ladders[v.Material].stimulus {
		return nil, err
	}
	return v, nil
}

// remembered is [Server.current] before the clips are ready: whether the stimulus is the
// same is not known yet.
func (s *Server) remembered(r *http.Request) (*Session, error) {
	c, err := r.Cookie(sessionCookie)
	if err != nil {
		return nil, nil
	}
	v, err := s.store.session(r.Context(), c.Value)
	switch {
	case errors.Is(err, ErrUnknown):
		return nil, nil
	case err != nil:
		return nil, err
	case s.ladders[v.Material] == nil:
		return nil, nil
	}
	return v, nil
}

type joinPage struct{ Wrong bool }

type startPage struct {
	Title     string
	Materials []string // those that can be offered, as far as is known
	Faults    []string // why others cannot
	Settings  Settings
	Plan      *Plan
	Consent   string
	Names     bool
	Closed    bool
	Preparing bool
	Made, Of  int // materials made ready
	Power     float64
	Session   *Session // unfinished, of this browser
	Last      *Session // finished, of this browser
	Fault     string
	Name      string
}

func (s *Server) start(v *Session) startPage {
	p := startPage{
		Title: s.config.Title, Settings: s.config.Settings, Plan: s.config.Plan, Names: s.config.Names, Closed: s.closed(),
		Preparing: !s.ready(), Made: int(s.done.Load()), Of: len(s.materials),
	}
	if p.Plan != nil {
		p.Title, p.Consent = cmp.Or(p.Plan.Title, p.Title), p.Plan.Consent
	}
	for _, m := range s.materials {
		if err := s.ladders[m].why(); err != nil {
			p.Faults = append(p.Faults, strings.TrimPrefix(err.Error(), "panel: "))
		} else {
			p.Materials = append(p.Materials, m)
		}
	}
	if p.Settings.Method == Triangle {
		_, p.Power = p.Settings.Plan()
	}
	switch {
	case v == nil:
	case v.Finished.IsZero():
		p.Session = v
	default:
		p.Last = v
	}
	return p
}

func (s *Server) getStart(w http.ResponseWriter, r *http.Request) {
	find := s.remembered // the first page does not wait
	if s.ready() {
		find = s.current
	}
	v, err := find(r)
	if err != nil {
		fail(w, r, err)
		return
	}
	s.page(w, http.StatusOK, "start", s.start(v))
}

func (s *Server) postBegin(w http.ResponseWriter, r *http.Request) {
	if err := r.ParseForm(); err != nil {
		fail(w, r, err)
		return
	}
	name, ok := plain(r.PostFormValue("name"), 40)
	if !ok {
		p := s.start(nil)
		p.Fault = "A name may have up to 40 letters, digits, spaces and signs."
		s.page(w, http.StatusBadRequest, "start", p)
		return
	}
	if r.PostFormValue("consent") == "" {
		p := s.start(nil)
		p.Fault = "Please read what the panel keeps of you, and agree to it or leave."
		s.page(w, http.StatusBadRequest, "start", p)
		return
	}
	if !s.await(r.Context()) {
		refuse(w, r, http.StatusServiceUnavailable, "The clips are still being made ready. Try again in a minute.")
		return
	}
	who := newcomer{material: r.PostFormValue("material")}
	if s.config.Names {
		who.name = name
	}
	if last, err := s.current(r); err == nil && r.PostFormValue("same") != "" {
		who.last = last
	}
	v, err := s.newSession(r.Context(), who)
	if err != nil {
		fail(w, r, err)
		return
	}
	http.SetCookie(w, s.cookie(sessionCookie, v.Token))
	http.Redirect(w, r, "/level", http.StatusSeeOther)
}

// plain trims a text and accepts up to most printable characters.
func plain(text string, most int) (string, bool) {
	text = strings.TrimSpace(text)
	bad := strings.ContainsFunc(text, func(c rune) bool { return !unicode.IsPrint(c) })
	return text, !bad && utf8.ValidString(text) && utf8.RuneCountInString(text) <= most
}

type levelPage struct {
	Session *Session
	Plan    *Plan
	Voices  []voice
	How     string // as chosen
	SPL     string // as typed
	Fixed   bool   // the session has a level, which must come back
	Least   float64
	Rate    int
	Frames  int
	Fault   string
}

func (s *Server) getLevel(w http.ResponseWriter, _ *http.Request, v *Session) {
	s.showLevel(w, http.StatusOK, v, "")
}

func (s *Server) showLevel(w http.ResponseWriter, status int, v *Session, fault string) {
	p := levelPage{
		Session: v, Plan: s.config.Plan, Voices: voices, Fixed: !v.LevelSet.IsZero(), Least: s.noiseLeast(),
		Rate: s.ladders[s.materials[0]].rate, Frames: s.level.noise.frames(), Fault: fault,
	}
	if v.SPL != nil && v.Matched == "meter" {
		p.SPL = number(*v.SPL)
	}
	s.page(w, status, "level", p)
}

func (s *Server) getNoise(w http.ResponseWriter, _ *http.Request, v *Session) {
	s.mu.Lock()
	s.fetched[v.ID] = time.Now() // before its last byte goes, for then it may be asked about
	s.mu.Unlock()
	s.writeClip(w, s.level.noise, 1, seed())
}

func (s *Server) postLevel(w http.ResponseWriter, r *http.Request, v *Session) {
	if err := r.ParseForm(); err != nil {
		fail(w, r, err)
		return
	}
	if fault := s.takeLevel(v, r); fault != "" {
		s.showLevel(w, http.StatusBadRequest, v, fault)
		return
	}
	if err := s.store.setLevel(v, time.Now()); err != nil {
		fail(w, r, err)
		return
	}
	http.Redirect(w, r, "/listen", http.StatusSeeOther)
}

// noiseLeast is how long the noise must be played, s.
func (s *Server) noiseLeast() float64 { return cmp.Or(s.config.Noise, noiseLeast).Seconds() }

// takeLevel puts what the form says into the session, or says what is wrong with it.
func (s *Server) takeLevel(v *Session, r *http.Request) (fault string) {
	device, ok1 := plain(r.PostFormValue("device"), 80)
	room, ok2 := plain(r.PostFormValue("room"), 80)
	spl, matched, fault := splOf(r.PostFormValue("how"), r.PostFormValue("spl"))
	meter := s.config.Plan != nil && s.config.Plan.Meter
	switch {
	case !ok1 || !ok2:
		return "Device and room may have up to 80 letters, digits, spaces and signs."
	case v.NoiseHeard < s.noiseLeast():
		return fmt.Sprintf("Play the reference noise for at least %g seconds first: it is the level of what follows.", s.noiseLeast())
	case fault != "":
		return fault
	case r.PostFormValue("read") == "":
		return "Please confirm that you have read the caution and set a comfortable level."
	case meter && matched != "meter":
		return "In this study the level is measured: type what the meter shows."
	case v.LevelSet.IsZero():
		if fault := s.offPlan(spl); fault != "" {
			return fault
		}
	case v.SPL != nil && (spl == nil || math.Abs(*spl-*v.SPL) > splTolerance):
		return fmt.Sprintf("This session was begun with the noise at %s dB(A); set the volume to that again.", fixed(0, *v.SPL))
	default:
		spl, matched = v.SPL, v.Matched // a level is set once
	}
	v.Device, v.Room, v.SPL, v.Matched = device, room, spl, matched
	if spl != nil {
		full := s.level.fullScale(*spl)
		v.Playback = &full
	}
	return ""
}

// offPlan says how a level misses the plan's.
func (s *Server) offPlan(spl *float64) string {
	if s.config.Plan == nil || s.config.Plan.SPL == 0 {
		return ""
	}
	want := s.config.Plan.SPL
	switch {
	case spl == nil:
		return "In this study the level is laid down: say how loud the noise is."
	case *spl < want-splTolerance:
		return fmt.Sprintf("The plan asks for %g dB(A): turn the volume up by %s dB.", want, fixed(1, want-*spl))
	case *spl > want+splTolerance:
		return fmt.Sprintf("The plan asks for %g dB(A): turn the volume down by %s dB.", want, fixed(1, *spl-want))
	}
	return ""
}

func decimalPoint(text string) string { return strings.Replace(strings.TrimSpace(text), ",", ".", 1) }

func (s *Server) getListen(w http.ResponseWriter, r *http.Request, v *Session) {
	switch {
	case v.LevelSet.IsZero():
		http.Redirect(w, r, "/level", http.StatusSeeOther)
	case !v.Finished.IsZero():
		http.Redirect(w, r, "/over", http.StatusSeeOther)
	default:
		s.page(w, http.StatusOK, "listen", v)
	}
}

func (s *Server) getOver(w http.ResponseWriter, r *http.Request, v *Session) {
	if v.Finished.IsZero() {
		http.Redirect(w, r, "/listen", http.StatusSeeOther)
		return
	}
	got, err := listenerResult(r.Context(), s.store, v)
	if err != nil {
		fail(w, r, err)
		return
	}
	s.page(w, http.StatusOK, "over", got)
}

// page renders whole before it sends, so that a failing template cannot leave
// half a page.
func (s *Server) page(w http.ResponseWriter, status int, name string, data any) {
	var b bytes.Buffer
	if err := templates.ExecuteTemplate(&b, name+".html", data); err != nil {
		http.Error(w, "The page could not be made: "+err.Error(), http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	w.Write(b.Bytes())
}
