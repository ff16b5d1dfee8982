package set

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"quietcross/corpus/render"
	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/dsp/wave"
	"quietcross/reports/panel/server"
)

// modelListener answers a panel's pages as the detection model does.
type modelListener struct {
	http  *http.Client
	base  string
	store *server.Store
	clips *Clips
	mind  hearing.Simulated
	ear   *ear                         // of all, made when it first hears
	known map[server.Presented]float64 // d', shared by all
}

// send makes a request and returns the body of a good answer.
func (m *modelListener) send(t *testing.T, method, path, kind, body string) []byte {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), method, m.base+path, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Content-Type", kind)
	w, err := m.http.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer w.Body.Close()
	got, err := io.ReadAll(w.Body)
	if err != nil || w.StatusCode != http.StatusOK {
		t.Fatal(path, w.StatusCode, string(got), err)
	}
	return got
}

const formKind = "application/x-www-form-urlencoded"

// listen does a whole session and returns the listener's code.
func (m *modelListener) listen(t *testing.T, material string, again bool) string {
	t.Helper()
	form := url.Values{"material": {material}, "consent": {"yes"}}
	if again {
		form.Set("same", "yes")
	}
	m.send(t, "POST", "/begin", formKind, form.Encode())
	m.send(t, "GET", "/noise", "", "")
	m.send(t, "POST", "/noise", "application/json", `{"seconds":0.002}`)
	m.send(t, "POST", "/level", formKind, url.Values{"read": {"yes"}, "how": {"meter"}, "spl": {"66"}}.Encode())
	sessions, err := m.store.Sessions(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	v := sessions[len(sessions)-1]
	for {
		var view struct {
			Over  bool
			Trial string
		}
		if err := json.Unmarshal(m.send(t, "GET", "/trial", "", ""), &view); err != nil {
			t.Fatal(err)
		}
		if view.Over {
			return v.Code
		}
		trials, err := m.store.Trials(t.Context(), v.ID)
		if err != nil {
			t.Fatal(err)
		}
		open := trials[len(trials)-1]
		choice := open.Odd
		if !m.mind.Answer(hearing.Triangle, m.dPrime(t, v, open)) {
			choice = open.Odd%3 + 1
		}
		m.send(t, "POST", "/answer", "application/json", fmt.Sprintf(`{"trial":%q,"choice":%d}`, view.Trial, choice))
	}
}

// dPrime is the model's for what is presented; catch trials without a difference have none.
func (m *modelListener) dPrime(t *testing.T, v *server.Session, open server.Trial) float64 {
	t.Helper()
	if open.Kind == server.CatchNull {
		return 0
	}
	p := server.Presented{
		Material: v.Material, Stimulus: v.Stimulus, Quiescent: open.Rung.Quiescent,
		Heard: hearing.Conditions{Playback: *v.Playback, RoomNR: hearing.DefaultRoomNR},
	}
	if _, ok := m.known[p]; !ok {
		if m.ear.clips == nil {
			e, err := m.clips.newEar(p.Material, p.Heard)
			if err != nil {
				t.Fatal(err)
			}
			*m.ear = *e
		}
		d, err := m.ear.dPrime(p.Quiescent)
		if err != nil || p.Heard != m.ear.heard {
			t.Fatal(err, p.Heard)
		}
		m.known[p] = d
	}
	return m.known[p]
}

// ringingSet renders some seconds of a struck chord, mono.
func ringingSet(t *testing.T, seconds float64) string {
	t.Helper()
	return renderedSet(t, render.File{Path: chord(t, seconds, 1)}, nil)
}

// chord writes a struck chord of this project's own, which dies away: one partial a note,
// each channel softer than the one before.
func chord(t *testing.T, seconds float64, channels int) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "ringing.wav")
	w, err := wave.Create(path, wave.Format{Rate: 48000, Channels: channels, Encoding: wave.PCM, Bits: 24}, wave.Options{})
	if err != nil {
		t.Fatal(err)
	}
	audio := make([][]float64, channels)
	for c := range audio {
		audio[c] = make([]float64, int(seconds*48000))
		for i := range audio[c] {
			x := float64(i) / 48000
			for _, hertz := range []float64{196.3, 247.1, 392.7, 494.9} {
				audio[c][i] += 0.15 / float64(1+c) * math.Exp(-1.5*x) * math.Sin(2*math.Pi*hertz*x)
			}
		}
	}
	if err := errors.Join(w.Write(audio), w.Close()); err != nil {
		t.Fatal(err)
	}
	return path
}

// Listeners who differ in efficiency sit three sessions of 50 trials each: from the set
// over the panel's pages to the answers and back to an efficiency. Each is found within
// four of its own standard errors, and all together within 1 dB rms. The pooled panel is
// refused nothing and lies between them.
func TestEfficiencyIsFoundThroughThePanel(t *testing.T) {
	clips, err := Open(ringingSet(t, 1.5))
	if err != nil {
		t.Fatal(err)
	}
	store, err := server.OpenStore(filepath.Join(t.TempDir(), "panel.sqlite"))
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	settings := server.Defaults(server.Adaptive)
	settings.Practice, settings.Trials, settings.Most, settings.Listen, settings.BreakEvery = 0, 50, 50, 0, 0
	panel, err := server.NewServer(server.Config{Clips: clips, Store: store, Settings: settings, Noise: time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	defer panel.Close()
	if err := panel.Prepare(t.Context(), nil); err != nil {
		t.Fatal(err)
	}
	web := httptest.NewServer(panel.Handler())
	defer web.Close()
	name := clips.Materials()[0]
	known, hears := map[server.Presented]float64{}, &ear{}
	truth := map[string]level.DB{}
	for i, e := range []level.DB{-6, -3, 0, 3, 5} {
		jar, _ := cookiejar.New(nil)
		m := &modelListener{&http.Client{Jar: jar}, web.URL, store, clips, hearing.Simulated{Efficiency: e, Random: rand.New(rand.NewPCG(uint64(i), 41))}, hears, known}
		for session := range 3 {
			truth[m.listen(t, name, session > 0)] = e
		}
	}
	if len(truth) != 5 {
		t.Fatalf("listeners %v", truth)
	}
	results, err := server.Evaluate(t.Context(), store, nil)
	if err != nil {
		t.Fatal(err)
	}
	square := 0.0
	for code, e := range truth {
		got := fitted(t, results, code, known)
		t.Logf("%s: true %g dB, fitted %.2f dB (%.2f to %.2f) from %d", code, e, got.DB, got.Low, got.High, got.Trials)
		square += float64((got.DB-e)*(got.DB-e)) / float64(len(truth))
		if got.Trials < 140 || math.Abs(float64(got.DB-e)) > float64(got.High-got.Low) {
			t.Errorf("%s: true %g dB, fitted %+v", code, e, got)
		}
	}
	if rms := math.Sqrt(square); rms > 1 {
		t.Errorf("%.2f dB rms, want 1", rms)
	} else {
		t.Logf("%.2f dB rms from %d distinct stimuli", rms, len(known))
	}
	// The command works the d' out anew, all of them at once.
	answers, err := results.Answers("", hearing.DefaultRoomNR)
	if err != nil {
		t.Fatal(err)
	}
	presented := []server.Presented{answers[0].Presented, answers[len(answers)-1].Presented}
	anew, remarks, err := clips.Sensitivities(t.Context(), presented, nil)
	if err != nil || len(remarks) > 0 || anew[presented[0]] != known[presented[0]] || anew[presented[1]] != known[presented[1]] {
		t.Errorf("d' %v, %v, %v", anew, remarks, err)
	}
	if all := fitted(t, results, "", known); all.DB < -6 || all.DB > 5 || all.Trials < 700 {
		t.Errorf("pooled %+v", all)
	}
}

// fitted fits the efficiency of a listener, or of all for "".
func fitted(t *testing.T, results *server.Results, code string, dPrime map[server.Presented]float64) hearing.Efficiency {
	t.Helper()
	answers, err := results.Answers(code, hearing.DefaultRoomNR)
	if err != nil {
		t.Fatal(err)
	}
	got, err := server.FitListener(answers, dPrime)
	if err != nil {
		t.Fatal(err)
	}
	return got
}
