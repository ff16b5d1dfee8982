package server

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"testing"
	"time"

	"quietcross/reports/panel/statistics"
)

// rig is a server on loopback with its store.
type rig struct {
	store  *Store
	server *Server
	http   *httptest.Server
}

func openStore(t testing.TB, path string) *Store {
	t.Helper()
	s, err := OpenStore(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// quick leaves out what costs a listener time: breaks, the time to listen, and trials
// beyond the least.
func quick(s Settings) Settings {
	s.Listen, s.Break, s.Most = 0, 0, 0
	return s
}

func newRig(t testing.TB, settings Settings, change func(*Config)) *rig {
	t.Helper()
	store := openStore(t, filepath.Join(t.TempDir(), "panel.sqlite"))
	c := Config{
		Clips: shortClips(), Store: store, Settings: quick(settings), Noise: time.Millisecond,
		Title: "Evening set", SetHash: "4f1c", Version: "0.1", SetSeed: 7,
	}
	if change != nil {
		change(&c)
	}
	server, err := NewServer(c)
	if err != nil {
		t.Fatal(err)
	}
	if err := server.Prepare(t.Context(), nil); err != nil {
		t.Fatal(err)
	}
	h := httptest.NewServer(server.Handler())
	t.Cleanup(func() { h.Close(); server.Close() })
	return &rig{store, server, h}
}

// client is one browser, as far as the protocol goes.
type client struct {
	base string
	http *http.Client
	// curve and rng are the simulated listener's; a trial is answered from the
	// store's key, which no client could do.
	curve statistics.Curve
	rng   *rand.Rand
}

func newClient(base string) *client {
	jar, _ := cookiejar.New(nil)
	return &client{base: base, http: &http.Client{Jar: jar}, rng: rand.New(rand.NewPCG(1, 2))}
}

// send returns the status, the headers and the body of a request.
func (c *client) send(method, path, kind, body string) (int, http.Header, []byte, error) {
	r, err := http.NewRequest(method, c.base+path, bytes.NewReader([]byte(body)))
	if err != nil {
		return 0, nil, nil, err
	}
	if kind != "" {
		r.Header.Set("Content-Type", kind)
	}
	w, err := c.http.Do(r)
	if err != nil {
		return 0, nil, nil, err
	}
	defer w.Body.Close()
	got, err := io.ReadAll(w.Body)
	return w.StatusCode, w.Header, got, err
}

// begin starts a session and sets its level.
func (c *client) begin(material string) error {
	form := url.Values{"material": {material}, "name": {""}, "consent": {"yes"}}.Encode()
	if status, _, body, err := c.send("POST", "/begin", "application/x-www-form-urlencoded", form); err != nil || status != 200 {
		return fmt.Errorf("begin: %d %s %w", status, body, err)
	}
	return c.setLevel()
}

// setLevel plays the noise for as long as the tests' servers ask, and says how loud it is.
func (c *client) setLevel() error {
	if status, _, body, err := c.send("GET", "/noise", "", ""); err != nil || status != 200 {
		return fmt.Errorf("noise: %d %.80s %w", status, body, err)
	}
	if status, _, body, err := c.send("POST", "/noise", "application/json", `{"seconds":0.002}`); err != nil || status != 200 {
		return fmt.Errorf("noise: %d %s %w", status, body, err)
	}
	form := url.Values{"read": {"yes"}, "device": {"headphones"}, "how": {"meter"}, "spl": {"72"}}.Encode()
	if status, _, body, err := c.send("POST", "/level", "application/x-www-form-urlencoded", form); err != nil || status != 200 {
		return fmt.Errorf("level: %d %s %w", status, body, err)
	}
	return nil
}

func (c *client) trial() (v trialView, err error) {
	status, _, body, err := c.send("GET", "/trial", "", "")
	if err != nil || status != 200 {
		return v, fmt.Errorf("trial: %d %s %w", status, body, err)
	}
	return v, json.Unmarshal(body, &v)
}

func (c *client) answer(trial string, choice int) (status int, got saved, err error) {
	status, _, body, err := c.send("POST", "/answer", "application/json", fmt.Sprintf(`{"trial":%q,"choice":%d}`, trial, choice))
	if err != nil {
		return 0, got, err
	}
	return status, got, json.Unmarshal(body, &got)
}

// token is the secret of the client's session.
func (c *client) token() string {
	u, _ := url.Parse(c.base)
	for _, k := range c.http.Jar.Cookies(u) {
		if k.Name == sessionCookie {
			return k.Value
		}
	}
	return ""
}

// session returns what the store holds of a client.
func (r *rig) session(t testing.TB, c *client) (*Session, []Trial) {
	t.Helper()
	v, err := r.store.session(t.Context(), c.token())
	if err != nil {
		t.Fatal(err)
	}
	trials, err := r.store.Trials(t.Context(), v.ID)
	if err != nil {
		t.Fatal(err)
	}
	return v, trials
}

// run listens to the end of the session and returns the number of trials.
func (r *rig) run(t testing.TB, c *client) int {
	t.Helper()
	for n := 0; ; n++ {
		view, err := c.trial()
		if err != nil {
			t.Fatal(err)
		}
		if view.Over {
			return n
		}
		if view.Graded {
			r.gradeRound(t, c, view)
			continue
		}
		_, trials := r.session(t, c)
		if status, got, err := c.answer(view.Trial, c.choose(trials[len(trials)-1])); err != nil || status != 200 || !got.Saved {
			t.Fatal(status, got, errors.Join(err))
		}
	}
}

// choose answers as the client's curve says; a trial it misses gets a wrong one.
func (c *client) choose(t Trial) int {
	right := 1.0 / 3
	if t.Kind != CatchNull {
		right = c.curve.At(float64(t.Rung.Residual))
	}
	if c.rng.Float64() < right {
		return t.Odd
	}
	return t.Odd%3 + 1
}

func (r *rig) gradeRound(t testing.TB, c *client, view trialView) {
	t.Helper()
	_, trials := r.session(t, c)
	grades := []float64{}
	for _, item := range trials[len(trials)-1].Items[1:] {
		g := 4.9
		if view.Triple {
			g = 5
		}
		if item.Role != Hidden {
			g = 4 + float64(c.rng.IntN(5))/10
		}
		if item.Role == Anchor {
			g = 1.5
		}
		grades = append(grades, g)
	}
	body, _ := json.Marshal(given{Trial: view.Trial, Grades: grades})
	if status, _, got, err := c.send("POST", "/answer", "application/json", string(body)); err != nil || status != 200 {
		t.Fatal(status, string(got), err)
	}
}

// listener is a client with a psychometric function.
func (r *rig) listener(t testing.TB, material string, threshold float64, seed uint64) *client {
	t.Helper()
	c := newClient(r.http.URL)
	c.curve = statistics.Curve{Location: threshold, Scale: 2, Guess: statistics.GuessThree, Lapse: 0.02}
	c.rng = rand.New(rand.NewPCG(seed, 0))
	if err := c.begin(material); err != nil {
		t.Fatal(err)
	}
	return c
}
