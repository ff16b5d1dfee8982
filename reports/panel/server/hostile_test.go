package server

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"syscall"
	"testing"
	"time"
)

// ask sends a request straight into the handler, from any address.
func ask(r *rig, from string, change func(*http.Request)) *httptest.ResponseRecorder {
	q := httptest.NewRequest("GET", "http://127.0.0.1/", nil)
	q.RemoteAddr = from
	if change != nil {
		change(q)
	}
	w := httptest.NewRecorder()
	r.server.Handler().ServeHTTP(w, q)
	return w
}

const (
	here  = "127.0.0.1:5000"
	there = "192.0.2.7:5000" // TEST-NET-1, RFC 5737
)

func TestForeignHostIsRefused(t *testing.T) {
	r := newRig(t, Defaults(Adaptive), func(c *Config) { c.Hosts = []string{"192.0.2.1"} })
	for host, want := range map[string]int{
		"localhost": 200, "127.0.0.1:80": 200, "[::1]:8080": 200, "192.0.2.1:8080": 200,
		"evil.example": 421, "evil.example:8080": 421, "127.0.0.1.evil.example": 421, "": 421, "localhost.": 421,
	} {
		if got := ask(r, here, func(q *http.Request) { q.Host = host }).Code; got != want {
			t.Errorf("host %q: %d, want %d", host, got, want)
		}
	}
}

func TestForeignOriginIsRefused(t *testing.T) {
	r := newRig(t, Defaults(Adaptive), nil)
	c := r.listener(t, "Bowed chord", -45, 1)
	view, err := c.trial()
	if err != nil {
		t.Fatal(err)
	}
	post := func(key, value string) int {
		q, _ := http.NewRequest("POST", c.base+"/answer", strings.NewReader(fmt.Sprintf(`{"trial":%q,"choice":1}`, view.Trial)))
		q.Header.Set("Content-Type", "application/json")
		q.Header.Set(key, value)
		w, err := c.http.Do(q)
		if err != nil {
			t.Fatal(err)
		}
		w.Body.Close()
		return w.StatusCode
	}
	for key, value := range map[string]string{"Origin": "http://evil.example", "Sec-Fetch-Site": "cross-site"} {
		if got := post(key, value); got != http.StatusForbidden {
			t.Errorf("%s %s: %d", key, value, got)
		}
	}
	if _, trials := r.session(t, c); !trials[0].Open() {
		t.Error("a foreign page answered a trial")
	}
	if got := post("Origin", c.base); got != http.StatusOK {
		t.Errorf("own origin: %d", got)
	}
}

func TestJoinCode(t *testing.T) {
	closed := newRig(t, Defaults(Adaptive), nil)
	if got := ask(closed, there, nil).Code; got != http.StatusForbidden {
		t.Errorf("without a code another address got %d", got)
	}
	r := newRig(t, Defaults(Adaptive), func(c *Config) { c.JoinCode = "K7PW9QRT" })
	for _, path := range []string{"/trial", "/begin", "/clip/x", "/panel.js"} {
		if got := ask(r, there, func(q *http.Request) { q.URL.Path = path }).Code; got != http.StatusForbidden {
			t.Errorf("%s without the code: %d", path, got)
		}
	}
	if w := ask(r, there, nil); w.Code != http.StatusSeeOther || w.Header().Get("Location") != "/join" {
		t.Errorf("start page: %d to %q", w.Code, w.Header().Get("Location"))
	}
	var kept []*http.Cookie
	try := func(from, code string) *httptest.ResponseRecorder {
		q := httptest.NewRequest("POST", "http://127.0.0.1/join", strings.NewReader(url.Values{"code": {code}}.Encode()))
		q.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		q.RemoteAddr = from
		for _, c := range kept {
			q.AddCookie(c)
		}
		w := httptest.NewRecorder()
		r.server.Handler().ServeHTTP(w, q)
		if c := w.Result().Cookies(); len(c) > 0 && kept == nil {
			kept = c
		}
		return w
	}
	for i := range wrongJoins {
		if got := try(there, "WRONG"+fmt.Sprint(i)).Code; got != http.StatusForbidden {
			t.Errorf("wrong code %d: %d", i, got)
		}
	}
	if got := try(there, "K7PW9QRT").Code; got != http.StatusTooManyRequests {
		t.Errorf("after %d wrong codes: %d", wrongJoins, got)
	}
	// Another browser of the same address is not locked out with it.
	kept = []*http.Cookie{}
	if got := try(there, "K7PW9QRT").Code; got != http.StatusSeeOther {
		t.Errorf("another browser at that address: %d", got)
	}
	w := try("192.0.2.8:5000", " k7pw9qrt ")
	if w.Code != http.StatusSeeOther {
		t.Fatalf("right code: %d", w.Code)
	}
	cookies := w.Result().Cookies()
	cookie := cookies[len(cookies)-1]
	if !cookie.HttpOnly || strings.Contains(cookie.Value, "K7PW9QRT") {
		t.Errorf("cookie %+v", cookie)
	}
	if got := ask(r, there, func(q *http.Request) { q.AddCookie(cookie) }).Code; got != http.StatusOK {
		t.Errorf("with the cookie: %d", got)
	}
	forged := *cookie
	forged.Value = strings.Repeat("0", 64)
	if got := ask(r, there, func(q *http.Request) { q.AddCookie(&forged) }).Code; got == http.StatusOK {
		t.Error("a forged cookie passed")
	}
}

// A trial of somebody else, or of nobody, cannot be answered or heard.
func TestForgedTrials(t *testing.T) {
	r := newRig(t, Defaults(Adaptive), nil)
	a, b := r.listener(t, "Bowed chord", -45, 1), r.listener(t, "Bowed chord", -45, 2)
	mine, err := a.trial()
	if err != nil {
		t.Fatal(err)
	}
	if _, err := b.trial(); err != nil {
		t.Fatal(err)
	}
	for name, trial := range map[string]string{"another's": mine.Trial, "nobody's": token(), "empty": ""} {
		if status, _, err := b.answer(trial, 1); err != nil || status != http.StatusNotFound {
			t.Errorf("%s trial: %d %v", name, status, err)
		}
	}
	for _, path := range []string{"/clip/" + mine.Clips[0], "/clip/" + token(), "/clip/..%2f..%2fetc%2fpasswd", "/clip/%2e%2e/%2e%2e/panel.sqlite", "/web/start.html", "/../panel.sqlite", "/panel.sqlite"} {
		if status, _, body, err := b.send("GET", path, "", ""); err != nil || status != http.StatusNotFound {
			t.Errorf("%s: %d %v %.60s", path, status, err, body)
		}
	}
	for _, body := range []string{
		`{"trial":"` + mine.Trial + `","choice":0}`, `{"trial":"` + mine.Trial + `","choice":4}`, `{"trial":"` + mine.Trial + `","choice":-1}`,
		`{"trial":"` + mine.Trial + `","grades":[5,5,5]}`, `{"trial":"` + mine.Trial + `","choice":1,"odd":1}`, `{`, `[]`, ``,
		`{"trial":"` + mine.Trial + `","choice":1}{}`, `{"trial":"' OR 1=1 --","choice":"1"}`,
	} {
		if status, _, _, err := a.send("POST", "/answer", "application/json", body); err != nil || status != http.StatusBadRequest {
			t.Errorf("%s: %d %v", body, status, err)
		}
	}
	if status, _, _, _ := a.send("POST", "/answer", "text/plain", `{}`); status != http.StatusUnsupportedMediaType {
		t.Errorf("plain text: %d", status)
	}
	if status, _, _, _ := newClient(r.http.URL).send("GET", "/trial", "", ""); status != http.StatusUnauthorized {
		t.Errorf("without a session: %d", status)
	}
	for _, c := range []*client{a, b} {
		if _, trials := r.session(t, c); len(trials) != 1 || !trials[0].Open() {
			t.Errorf("stored: %+v", trials)
		}
	}
}

func TestLargeBodiesAreRefused(t *testing.T) {
	r := newRig(t, Defaults(Adaptive), nil)
	c := r.listener(t, "Bowed chord", -45, 1)
	large := strings.Repeat("x", 1<<20)
	for path, kind := range map[string]string{"/answer": "application/json", "/begin": "application/x-www-form-urlencoded", "/level": "application/x-www-form-urlencoded"} {
		body := "name=" + large
		if kind == "application/json" {
			body = `{"trial":"` + large + `"}`
		}
		if status, _, got, err := c.send("POST", path, kind, body); err == nil && status != http.StatusRequestEntityTooLarge {
			t.Errorf("%s: %d %s", path, status, got)
		}
	}
	if _, _, err := c.answer("x", 1); err != nil {
		t.Errorf("afterwards: %v", err)
	}
}

func TestTypedTextsAreChecked(t *testing.T) {
	r := newRig(t, Defaults(Adaptive), nil)
	r.server.config.Names = true
	post := func(path string, form url.Values) (int, string) {
		c := r.listener(t, "Bowed chord", -45, 1)
		status, _, body, err := c.send("POST", path, "application/x-www-form-urlencoded", form.Encode())
		if err != nil {
			t.Fatal(err)
		}
		return status, string(body)
	}
	for path, forms := range map[string][]url.Values{
		"/begin": {{"consent": {"yes"}, "material": {"no such"}}, {"consent": {"yes"}, "material": {"Bowed chord"}, "name": {"a\x00b"}}, {"consent": {"yes"}, "material": {"Bowed chord"}, "name": {strings.Repeat("n", 41)}}, {"material": {"Bowed chord"}}},
		"/level": {{"device": {"x"}}, {"read": {"yes"}, "how": {"meter"}, "spl": {"loud"}}, {"read": {"yes"}, "how": {"meter"}, "spl": {"NaN"}}, {"read": {"yes"}, "how": {"meter"}, "spl": {"500"}}, {"read": {"yes"}, "how": {"shouting"}}, {"read": {"yes"}, "room": {strings.Repeat("n", 81)}}, {"read": {"yes"}, "device": {strings.Repeat("n", 81)}}},
	} {
		for _, form := range forms {
			if status, body := post(path, form); status < 400 || status >= 500 {
				t.Errorf("%s %v: %d %.80s", path, form, status, body)
			}
		}
	}
	form := url.Values{"consent": {"yes"}, "material": {"Bowed chord"}, "name": {`<script>alert(1)</script>`}}
	if _, body := post("/begin", form); strings.Contains(body, "<script>alert") {
		t.Error("a name became a script")
	}
}

// A client that sends half a request, or does not take its clip, is dropped,
// and others are served meanwhile.
func TestSlowClientsAreDropped(t *testing.T) {
	r := newRig(t, Defaults(Adaptive), func(c *Config) {
		c.ReadTimeout, c.StallTimeout = 200*time.Millisecond, 200*time.Millisecond
		c.Clips = newLongClips()
	})
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() { ended <- r.server.Serve(t.Context(), l) }()
	t.Cleanup(func() {
		if err := <-ended; err != nil {
			t.Errorf("serve: %v", err)
		}
	})
	half := dial(t, l)
	io.WriteString(half, "POST /answer HTTP/1.1\r\nHost: localhost\r\nContent-Length: 100\r\n")
	c := newClient("http://" + l.Addr().String())
	if err := c.begin("Bowed chord"); err != nil {
		t.Fatal(err)
	}
	view, err := c.trial()
	if err != nil {
		t.Fatal(err)
	}
	stuck := dial(t, l)
	stuck.(*net.TCPConn).SetReadBuffer(256 << 10)
	fmt.Fprintf(stuck, "GET /clip/%s HTTP/1.1\r\nHost: localhost\r\nCookie: %s=%s\r\n\r\n", view.Clips[0], sessionCookie, c.token())
	if got, err := io.ReadAll(half); err != nil && !errors.Is(err, syscall.ECONNRESET) {
		t.Errorf("half a request: %v %.80s", err, got)
	}
	if status, _, err := c.answer(view.Trial, 1); err != nil || status != 200 {
		t.Errorf("meanwhile: %d %v", status, err)
	}
	time.Sleep(time.Second) // several stalls; the clip is far larger than the buffers between
	n, err := io.Copy(io.Discard, bufio.NewReader(stuck))
	if want := int64(3 * view.Channels * view.Frames); n >= want {
		t.Errorf("a client that did not read was sent all %d bytes (%v)", n, err)
	}
}

func dial(t *testing.T, l net.Listener) net.Conn {
	t.Helper()
	c, err := net.Dial("tcp", l.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	c.SetReadDeadline(time.Now().Add(20 * time.Second))
	return c
}

// Whatever is sent as an answer, the server does not fail, and the trial stays
// open unless the receipt says saved.
func FuzzAnswer(f *testing.F) {
	for _, body := range []string{`{"trial":"T","choice":2}`, `{"trial":"T","choice":1e9}`, `{"trial":"T","grades":[1,2]}`, `{"trial":"T","grades":[null]}`, `{"choice":"1"}`, `nul`, "\x00", `{"trial":"T","choice":2.5}`} {
		f.Add(body)
	}
	r := newRig(f, Defaults(Adaptive), nil)
	c := r.listener(f, "Bowed chord", -45, 1)
	f.Fuzz(func(t *testing.T, body string) {
		view, err := c.trial()
		if err != nil || view.Over {
			t.Skip(err)
		}
		status, _, got, err := c.send("POST", "/answer", "application/json", strings.ReplaceAll(body, "T", view.Trial))
		if err != nil || status >= 500 {
			t.Fatalf("%d %s %v", status, got, err)
		}
		_, trials := r.session(t, c)
		if last := trials[len(trials)-1]; last.Token == view.Trial && last.Open() == (status == http.StatusOK) {
			t.Errorf("status %d, open %v", status, last.Open())
		}
	})
}
