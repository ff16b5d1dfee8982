package server

import (
	"crypto/hmac"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
	"sync"
	"time"
)

const (
	mostBody       = 8 << 10 // bytes of a request's body
	wrongJoins     = 5       // wrong join codes a browser may give …
	wrongJoinsAll  = 300     // … and all together: 39 bits of code last for centuries
	wrongJoinsIn   = time.Minute
	mostBrowsers   = 10_000 // remembered for that
	browserCookie  = "panel_browser"
	joinCookie     = "panel_join"
	sessionCookie  = "panel_session"
	cookieLifetime = 30 * 24 * 3600 // seconds
)

// guard puts every check that no page may escape in front of the pages.
func (s *Server) guard(pages http.Handler) http.Handler {
	origin := http.NewCrossOriginProtection()
	origin.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		refuse(w, r, http.StatusForbidden, "This request came from another site and was refused.")
	}))
	joined := origin.Handler(s.requireJoin(pages))
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'")
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Cache-Control", "no-store")
		if s.config.Secure {
			h.Set("Strict-Transport-Security", "max-age=86400")
		}
		if !s.hostAllowed(r.Host) {
			refuse(w, r, http.StatusMisdirectedRequest, "This panel does not answer under that name. Use the address that the program printed.")
			return
		}
		r.Body = http.MaxBytesReader(w, r.Body, mostBody)
		joined.ServeHTTP(w, r)
	})
}

// hostAllowed accepts the names of this machine only, so that a foreign name
// that resolves to it (rebinding) gets nothing.
func (s *Server) hostAllowed(host string) bool {
	name := host
	if h, _, err := net.SplitHostPort(host); err == nil {
		name = h
	}
	name = strings.ToLower(strings.Trim(name, "[]"))
	switch name {
	case "localhost", "127.0.0.1", "::1":
		return true
	}
	return slices.Contains(s.config.Hosts, name)
}

// loopback reports whether the request came from this machine. Behind a proxy every
// request does, and none counts as that.
func (s *Server) loopback(r *http.Request) bool {
	a, err := netip.ParseAddrPort(r.RemoteAddr)
	return !s.config.Behind && err == nil && a.Addr().Unmap().IsLoopback()
}

// requireJoin lets an address that is not loopback pass only with the cookie
// that the right join code earns.
func (s *Server) requireJoin(pages http.Handler) http.Handler {
	open := map[string]bool{"/join": true, "/panel.css": true}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if s.loopback(r) || s.config.JoinCode != "" && (open[r.URL.Path] || s.hasJoined(r)) {
			pages.ServeHTTP(w, r)
			return
		}
		if s.config.JoinCode == "" {
			refuse(w, r, http.StatusForbidden, "This panel serves its own machine only.")
			return
		}
		if r.Method == http.MethodGet && r.URL.Path == "/" {
			http.Redirect(w, r, "/join", http.StatusSeeOther)
			return
		}
		refuse(w, r, http.StatusForbidden, "The join code is needed first.")
	})
}

func (s *Server) hasJoined(r *http.Request) bool {
	c, err := r.Cookie(joinCookie)
	return err == nil && subtle.ConstantTimeCompare([]byte(c.Value), []byte(s.joinProof())) == 1
}

// joinProof is what a browser keeps in place of the join code; it ends with the
// code.
func (s *Server) joinProof() string {
	m := hmac.New(sha256.New, []byte(s.joinKey))
	m.Write([]byte(s.config.JoinCode))
	return hex.EncodeToString(m.Sum(nil))
}

func (s *Server) postJoin(w http.ResponseWriter, r *http.Request) {
	if s.hasJoined(r) { // a room full of people shares an address, and not their slips
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	browser := s.browser(w, r)
	if !s.attempts.allowed(browser, wrongJoins, time.Now()) || !s.attempts.allowed("", wrongJoinsAll, time.Now()) {
		refuse(w, r, http.StatusTooManyRequests, "Too many wrong codes. Wait a minute.")
		return
	}
	given := strings.ToUpper(strings.TrimSpace(r.PostFormValue("code")))
	if s.config.JoinCode == "" || subtle.ConstantTimeCompare([]byte(given), []byte(s.config.JoinCode)) != 1 {
		s.attempts.failed(browser, time.Now())
		s.attempts.failed("", time.Now())
		s.page(w, http.StatusForbidden, "join", joinPage{Wrong: true})
		return
	}
	http.SetCookie(w, s.cookie(joinCookie, s.joinProof()))
	http.Redirect(w, r, "/", http.StatusSeeOther)
}

// browser tells browsers apart that try join codes, by a cookie; one that keeps none is
// held to the limit of all.
func (s *Server) browser(w http.ResponseWriter, r *http.Request) string {
	if c, err := r.Cookie(browserCookie); err == nil && len(c.Value) <= 64 {
		return "browser " + c.Value
	}
	name := token()
	http.SetCookie(w, s.cookie(browserCookie, name))
	return "browser " + name
}

// cookie is one that lasts, for this panel alone.
func (s *Server) cookie(name, value string) *http.Cookie {
	return &http.Cookie{
		Name: name, Value: value, Path: "/", MaxAge: cookieLifetime, HttpOnly: true, SameSite: http.SameSiteLaxMode, Secure: s.config.Secure,
	}
}

// attempts counts the wrong join codes of each browser, and of all under "".
type attempts struct {
	mu    sync.Mutex
	wrong map[string][]time.Time
}

func (a *attempts) allowed(address string, most int, now time.Time) bool {
	a.mu.Lock()
	defer a.mu.Unlock()
	recent := slices.DeleteFunc(a.wrong[address], func(t time.Time) bool { return now.Sub(t) > wrongJoinsIn })
	if len(recent) == 0 {
		delete(a.wrong, address)
		return true
	}
	a.wrong[address] = recent
	return len(recent) < most
}

func (a *attempts) failed(address string, now time.Time) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.wrong == nil || len(a.wrong) >= mostBrowsers {
		a.wrong = map[string][]time.Time{}
	}
	a.wrong[address] = append(a.wrong[address], now)
}
