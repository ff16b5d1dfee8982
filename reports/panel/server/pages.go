package server

import (
	"bytes"
	"embed"
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"strconv"
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
		case v == nil:
			refuse(w, r, http.StatusUnauthorized, "This browser has no session here. Begin on the start page.")
		default:
			f(w, r, v)
		}
	}
}

// current returns the session of the browser's cookie, nil when there is none.
// A session of another set cannot go on here.
func (s *Server) current(r *http.Request) (*Session, error) {
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
	case v.SetHash != s.config.SetHash || s.ladders[v.Material] == nil:
		return nil, nil
	}
	return v, s.ladders[v.Material].prepare()
}

type joinPage struct{ Wrong bool }

type startPage struct {
	Title     string
	Materials []string // those that can be offered, as far as is known
	Faults    []string // why others cannot
	Settings  Settings
	Power     float64
	Session   *Session // unfinished, of this browser
	Last      *Session // finished, of this browser
	Fault     string
	Name      string
}

func (s *Server) start(v *Session) startPage {
	p := startPage{Title: s.config.Title, Settings: s.config.Settings}
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
	v, err := s.current(r)
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
	browser, ok := plain(r.UserAgent(), 400)
	if !ok {
		browser = "" // not worth keeping
	}
	code := ""
	if last, err := s.current(r); err == nil && last != nil && r.PostFormValue("same") != "" {
		name, code = last.Name, last.Code
	}
	v, err := s.newSession(r.Context(), r.PostFormValue("material"), name, code, browser)
	if err != nil {
		fail(w, r, err)
		return
	}
	http.SetCookie(w, &http.Cookie{
		Name: sessionCookie, Value: v.Token, Path: "/", MaxAge: cookieLifetime, HttpOnly: true, SameSite: http.SameSiteLaxMode,
	})
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
	SPL     string
	Rate    int
	Frames  int
	Fault   string
}

func (s *Server) getLevel(w http.ResponseWriter, _ *http.Request, v *Session) {
	s.showLevel(w, http.StatusOK, v, "")
}

func (s *Server) showLevel(w http.ResponseWriter, status int, v *Session, fault string) {
	p := levelPage{Session: v, Rate: v.ClipRate, Frames: s.noise(v.Material).frames(), Fault: fault}
	if v.SPL != nil {
		p.SPL = number(*v.SPL)
	}
	s.page(w, status, "level", p)
}

// noise returns the reference noise of a material, made once.
func (s *Server) noise(material string) *sound {
	l := s.ladders[material]
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.noises[material] == nil {
		s.noises[material] = referenceNoise(l.rate, l.ref)
	}
	return s.noises[material]
}

func (s *Server) getNoise(w http.ResponseWriter, _ *http.Request, v *Session) {
	s.writeClip(w, s.noise(v.Material), seed())
}

func (s *Server) postLevel(w http.ResponseWriter, r *http.Request, v *Session) {
	if err := r.ParseForm(); err != nil {
		fail(w, r, err)
		return
	}
	device, ok := plain(r.PostFormValue("device"), 80)
	spl, err := parseSPL(r.PostFormValue("spl"))
	switch {
	case r.PostFormValue("read") == "":
		s.showLevel(w, http.StatusBadRequest, v, "Please confirm that you have read the caution and set a comfortable level.")
	case !ok:
		s.showLevel(w, http.StatusBadRequest, v, "The device may have up to 80 letters, digits, spaces and signs.")
	case err != nil:
		s.showLevel(w, http.StatusBadRequest, v, err.Error())
	default:
		if err := s.store.setLevel(v.ID, device, spl, time.Now()); err != nil {
			fail(w, r, err)
			return
		}
		http.Redirect(w, r, "/listen", http.StatusSeeOther)
	}
}

func parseSPL(text string) (*float64, error) {
	text = strings.Replace(strings.TrimSpace(text), ",", ".", 1)
	if text == "" {
		return nil, nil
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !(v >= 20 && v <= 120) {
		return nil, fmt.Errorf("the measured level %q is not a number of decibels from 20 to 120", text)
	}
	return &v, nil
}

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
