package server

import (
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"quietcross/dsp/level"
	"quietcross/reports/panel/statistics"
)

// A browser may give four wrong codes and be let in with the right one, not five; all
// together three hundred a minute. A code of 39 bits then lasts for longer than a century,
// and one right cookie for 30 days.
func TestEdgesOfJoining(t *testing.T) {
	r := newRig(t, Defaults(Adaptive), func(c *Config) { c.JoinCode = "K7PW9QRT" })
	join := func(browser string) int {
		q := httptest.NewRequest("POST", "http://127.0.0.1/join", strings.NewReader("code=K7PW9QRT"))
		q.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		q.RemoteAddr = there
		q.AddCookie(&http.Cookie{Name: browserCookie, Value: browser})
		w := httptest.NewRecorder()
		r.server.Handler().ServeHTTP(w, q)
		return w.Code
	}
	now := time.Now()
	for wrong, want := range map[int]int{4: http.StatusSeeOther, 5: http.StatusTooManyRequests} {
		name := fmt.Sprint("b", wrong)
		for range wrong {
			r.server.attempts.failed("browser "+name, now)
		}
		if got := join(name); got != want {
			t.Errorf("after %d wrong codes: %d", wrong, got)
		}
	}
	for range 299 {
		r.server.attempts.failed("", now)
	}
	if got := join("another"); got != http.StatusSeeOther {
		t.Errorf("after 299 wrong codes of all: %d", got)
	}
	r.server.attempts.failed("", now)
	if got := join("another"); got != http.StatusTooManyRequests {
		t.Errorf("after 300 wrong codes of all: %d", got)
	}
	a := &r.server.attempts
	if a.allowed("", 300, now.Add(59*time.Second)) || !a.allowed("", 300, now.Add(61*time.Second)) {
		t.Error("wrong codes count for a minute")
	}
	if years := math.Exp2(39) / 2 / 300 / 60 / 24 / 365; years < 100 {
		t.Errorf("codes last for %g years", years)
	}
	if c := r.server.cookie("a", "b"); time.Duration(c.MaxAge)*time.Second != 30*24*time.Hour {
		t.Errorf("a cookie lasts for %d s", c.MaxAge)
	}
	var many attempts
	many.failed("first", now)
	for i := range 9999 {
		many.failed(fmt.Sprint(i), now)
	}
	if many.allowed("first", 1, now) {
		t.Error("the first of 10,000 browsers is forgotten")
	}
	if many.failed("one more", now); len(many.wrong) != 1 {
		t.Errorf("%d browsers are remembered", len(many.wrong))
	}
}

// Bodies have up to 8 KiB, plans up to a megabyte.
func TestEdgesOfSizes(t *testing.T) {
	r := newRig(t, Defaults(Adaptive), nil)
	c := r.listener(t, "Bowed chord", -45, 1)
	for size, large := range map[int]bool{8 << 10: false, 8<<10 + 1: true} {
		body := `{"trial":"` + strings.Repeat("x", size-12) + `"}`
		status, _, got, err := c.send("POST", "/answer", "application/json", body)
		if err != nil || (status == http.StatusRequestEntityTooLarge) != large {
			t.Errorf("%d bytes: %d %s %v", len(body), status, got, err)
		}
	}
	for size, large := range map[int]bool{1 << 20: false, 1<<20 + 1: true} {
		_, err := ReadPlan(strings.NewReader("#" + strings.Repeat("x", size-1)))
		if got := err != nil && strings.Contains(err.Error(), "bytes"); got != large {
			t.Errorf("a plan of %d bytes: %v", size, err)
		}
	}
}

// Half of a tenth of a second may be lost to clocks and rounding.
func TestEdgeOfHeard(t *testing.T) {
	s := &Server{ladders: map[string]*ladder{"m": {ref: &sound{samples: [][]float32{make([]float32, 8000)}}}}}
	v := &Session{Material: "m", ClipRate: 8000, Settings: Settings{Listen: 1}}
	least := v.leastHeard(8000)
	now := time.Now()
	for missing, heard := range map[float64]bool{0.045: true, 0.055: false} {
		trial := &Trial{Items: []Item{{}}, Started: now.Add(-time.Hour)}
		if err := s.heard(v, trial, given{Heard: []float64{least - missing}}, now); (err == nil) != heard {
			t.Errorf("%g s short of %g s by the page: %v", missing, least, err)
		}
		trial.Started = now.Add(-time.Duration((least - missing) * float64(time.Second)))
		if err := s.heard(v, trial, given{Heard: []float64{least}}, now); (err == nil) != heard {
			t.Errorf("%g s short of %g s by the clock: %v", missing, least, err)
		}
	}
}

// Clips are of 8 to 384 kHz, one channel or two, and 0.2 to 30 s.
func TestEdgesOfClips(t *testing.T) {
	clip := func(channels, frames int) [][]float64 {
		audio := make([][]float64, channels)
		for c := range audio {
			audio[c] = make([]float64, frames)
		}
		return audio
	}
	for _, c := range []struct {
		rate, channels, frames int
		legal                  bool
	}{
		{8000, 1, 8000, true},
		{7999, 1, 8000, false},
		{384000, 2, 384000, true},
		{384001, 1, 384000, false},
		{8000, 0, 8000, false},
		{8000, 2, 8000, true},
		{8000, 3, 8000, false},
		{8000, 1, 1600, true},
		{8000, 1, 1599, false},
		{8000, 1, 240_000, true},
		{8000, 1, 240_001, false},
	} {
		audio := clip(c.channels, c.frames)
		if c.channels == 0 {
			audio = nil
		}
		if err := checkAudio(c.rate, audio); (err == nil) != c.legal {
			t.Errorf("%+v: %v", c, err)
		}
	}
}

// A material's residual goes through 3 dB at least, and is used over 90 dB at most; nine
// renderings map it, and a level is met within 0.15 dB, eight renderings spent on it.
func TestEdgesOfTheLadder(t *testing.T) {
	prepared := func(lowest float64) (*ladder, *synthetic, error) {
		clips := faulty{synthetic: shortClips(), rendering: func(a [][]float64, r Rung) ([][]float64, Rung, error) {
			r.Residual = level.DB(-20 + (lowest+20)*min(r.Quiescent/optimumCurrent, 1))
			return a, r, nil
		}}
		l := newLadder(t, clips)
		return l, clips.synthetic, l.prepare(Defaults(Adaptive))
	}
	for span, legal := range map[float64]bool{2.95: false, 3.05: true} {
		if _, _, err := prepared(-20 - span); (err == nil) != legal {
			t.Errorf("%g dB between the ends: %v", span, err)
		}
	}
	l, clips, err := prepared(-140)
	if err != nil {
		t.Fatal(err)
	}
	if lo, hi := l.ends(); hi-lo != 90 {
		t.Errorf("from %g to %g dB", lo, hi)
	}
	if n := clips.rendered.Load(); n != 9 {
		t.Errorf("%d renderings map the residual", n)
	}
	for off, rendered := range map[float64]int64{0.14: 0, 0.16: 1} {
		l, clips, err := prepared(-80)
		if err != nil {
			t.Fatal(err)
		}
		before := clips.rendered.Load()
		if _, _, err := l.at(float64(l.rungs[3].Residual) - off); err != nil || (clips.rendered.Load() > before) != (rendered > 0) {
			t.Errorf("%g dB off: %d renderings, %v", off, clips.rendered.Load()-before, err)
		}
	}
	// A law that bends within a nanoampere is never met: the search gives up.
	bent := faulty{synthetic: shortClips(), rendering: func(a [][]float64, r Rung) ([][]float64, Rung, error) {
		r.Residual = map[bool]level.DB{true: -20, false: -60}[r.Quiescent < 0.0123456789]
		r.Residual -= level.DB(r.Quiescent)
		return a, r, nil
	}}
	l = newLadder(t, bent)
	if err := l.prepare(Defaults(Adaptive)); err != nil {
		t.Fatal(err)
	}
	before := bent.synthetic.rendered.Load()
	if _, _, err := l.at(-40); err != nil || bent.synthetic.rendered.Load()-before != 8 {
		t.Errorf("%d renderings, %v", bent.synthetic.rendered.Load()-before, err)
	}
}

// The loudest material is brought to -23 LUFS (EBU R 128), or to a peak of 0.95 where that
// comes first.
func TestEdgesOfPlayback(t *testing.T) {
	for _, c := range []struct{ loudness, peak, want float64 }{
		{-40, 0.1, 17}, {-30, 0.1, 7}, {-40, 0.95, 0}, {-40, 0.475, 20 * math.Log10(2)},
	} {
		gain := gainOf([]*ladder{{loudness: c.loudness, peak: c.peak, rate: 8000}, {loudness: -60, peak: 0.01}})
		if math.Abs(float64(gain)-c.want) > 1e-9 {
			t.Errorf("%+v: %g dB", c, float64(gain))
		}
	}
	if got := loudnessOf([][]float32{make([]float32, 8000)}, 8000); got > -120 {
		t.Errorf("silence has %g LUFS", got)
	}
}

// What a page may say of an answer: up to a million switches and seconds, grades from 1.0
// to 5.0 in tenths (ITU-R BS.1284), players of 3 to 768 kHz; levels of 30 to 85 dB(A).
func TestEdgesOfAnswers(t *testing.T) {
	for _, c := range []struct {
		a     given
		legal bool
	}{
		{given{Choice: 1, Switches: 1_000_000}, true},
		{given{Choice: 1, Switches: 1_000_001}, false},
		{given{Choice: 1, Heard: []float64{999_999}}, true},
		{given{Choice: 1, Heard: []float64{1_000_000}}, false},
		{given{Choice: 3}, true},
		{given{Choice: 4}, false},
		{given{Choice: 0}, false},
	} {
		if err := fits(&Trial{Kind: Test, Items: make([]Item, 3)}, c.a); (err == nil) != c.legal {
			t.Errorf("%+v: %v", c.a, err)
		}
	}
	for grade, legal := range map[float64]bool{1: true, 0.9: false, 5: true, 5.1: false, 2.3: true, 2.35: false, 2.3 + 1.5e-7: false, 2.3 + 0.5e-7: true} {
		err := fits(&Trial{Kind: GradedKind, Items: make([]Item, 4)}, given{Grades: []float64{1, grade, 1}})
		if (err == nil) != legal {
			t.Errorf("a grade of %.9g: %v", grade, err)
		}
	}
	for best, want := range map[float64]error{5: nil, 4.9: errFive} { // of the two of a triple trial one is the reference
		if err := fits(&Trial{Kind: GradedKind, Items: make([]Item, 3)}, given{Grades: []float64{2, best}}); err != want {
			t.Errorf("%g at best: %v", best, err)
		}
	}
	r := newRig(t, Defaults(Adaptive), nil)
	c := r.listener(t, "Bowed chord", -45, 1)
	for hertz, legal := range map[int]bool{3000: true, 2999: false, 768_000: true, 768_001: false} {
		status, _, got, err := c.send("POST", "/rates", "application/json", fmt.Sprintf(`{"played":48000,"device":%d}`, hertz))
		if err != nil || (status == http.StatusOK) != legal {
			t.Errorf("%d Hz: %d %s %v", hertz, status, got, err)
		}
	}
	for spl, legal := range map[string]bool{"30": true, "29.9": false, "85": true, "85.1": false} {
		if v, _, fault := splOf("meter", spl); (v != nil) != legal || legal == (fault != "") {
			t.Errorf("%s dB(A): %q", spl, fault)
		}
	}
}

// A grade is predicted between the currents that were worked out, their ends included.
func TestEdgesOfPredictedGrades(t *testing.T) {
	p := &Prediction{Grades: []PredictedGrade{{Quiescent: 1, Grade: 2}, {Quiescent: 4, Grade: 4}}}
	for current, want := range map[float64]float64{1: 2, 2: 3, 4: 4, 1 - 1e-10: 2, 4 + 1e-10: 4, 0.99: math.NaN(), 4.01: math.NaN()} {
		if got := p.gradeAt(current); math.IsNaN(got) != math.IsNaN(want) || math.Abs(got-want) > 1e-6 {
			t.Errorf("%g A: %g, want %g", current, got, want)
		}
	}
}

// Intervals are of 95 %: of two thresholds 2 dB apart, alike known, by Student's t of one
// degree of freedom, 12.7062 times the standard error of their mean (tables of t). The page
// says so in words.
func TestIntervalsAreOfNineteenInTwenty(t *testing.T) {
	var m MaterialResult
	m.poolThresholds([]float64{-41, -39}, []float64{0.1, 0.1})
	if m.Pooled == nil || m.Pooled.Interval.Level != 0.95 {
		t.Fatalf("%+v", m.Pooled)
	}
	if half := (m.Pooled.Interval.Hi - m.Pooled.Interval.Lo) / 2; math.Abs(half/m.Pooled.SE-12.7062) > 1e-3 {
		t.Errorf("%g dB to either side at an error of %g dB", half, m.Pooled.SE)
	}
}

// A level lies within 2 dB of the plan's, and of the session's own where it goes on; the
// noise is played for five seconds before.
func TestEdgesOfALevel(t *testing.T) {
	s := &Server{config: Config{Plan: &Plan{SPL: 65}}, level: fixedPlayback(0, -23, 48000)}
	fault := func(v *Session, spl string) string {
		form := url.Values{"how": {"meter"}, "spl": {spl}, "read": {"yes"}}
		r := httptest.NewRequest(http.MethodPost, "/level", strings.NewReader(form.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		return s.takeLevel(v, r)
	}
	for _, c := range []struct {
		spl         string
		heard       float64
		first, goes string // what is said at first, and of a session that began with 66 dB(A)
	}{
		{"62.9", 5.1, "turn the volume up", "was begun with"},
		{"63.1", 5.1, "", "was begun with"},
		{"64.1", 5.1, "", ""},
		{"66.9", 5.1, "", ""},
		{"67.1", 5.1, "turn the volume down", ""},
		{"67.9", 5.1, "turn the volume down", ""},
		{"68.1", 5.1, "turn the volume down", "was begun with"},
		{"65", 4.9, "at least 5 seconds", "at least 5 seconds"},
	} {
		if got := fault(&Session{NoiseHeard: c.heard}, c.spl); (got == "") != (c.first == "") || !strings.Contains(got, c.first) {
			t.Errorf("%s dB(A) at first: %q", c.spl, got)
		}
		if got := fault(&Session{NoiseHeard: c.heard, LevelSet: time.Now(), SPL: new(66.0)}, c.spl); (got == "") != (c.goes == "") || !strings.Contains(got, c.goes) {
			t.Errorf("%s dB(A) after 66: %q", c.spl, got)
		}
	}
}

// At the threshold of a panel two of three answers are right: a third by guessing, and half
// of the rest heard.
func TestThresholdIsHalfHeard(t *testing.T) {
	if got := statistics.TriangleCorrect(ThresholdSensitivity()); math.Abs(got-2.0/3) > 1e-9 {
		t.Errorf("%g right", got)
	}
}

// A plan is refused from its limits on: 100 pieces a sitting, 30 days of pause, 40 dB(A).
func TestEdgesOfAPlan(t *testing.T) {
	for text, legal := range map[string]bool{
		"[session]\nmaterials_per_sitting = 100": true,
		"[session]\nmaterials_per_sitting = 101": false,
		"[session]\npause = \"720h\"":            true,
		"[session]\npause = \"720h1s\"":          false,
		"[level]\nspl = 40":                      true,
		"[level]\nspl = 39.9":                    false,
	} {
		if _, err := ReadPlan(strings.NewReader(text)); (err == nil) != legal {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// What a listener types is refused from a length on: names at 41 characters, device and
// room at 81.
func TestEdgesOfWhatIsTyped(t *testing.T) {
	s := &Server{level: fixedPlayback(0, -23, 48000)}
	for length, legal := range map[int]bool{80: true, 81: false} {
		for _, key := range []string{"device", "room"} {
			form := url.Values{"how": {"unknown"}, "read": {"yes"}, key: {strings.Repeat("x", length)}}
			r := httptest.NewRequest(http.MethodPost, "/level", strings.NewReader(form.Encode()))
			r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			if got := s.takeLevel(&Session{NoiseHeard: 60}, r); strings.Contains(got, "80 letters") == legal {
				t.Errorf("%s of %d characters: %q", key, length, got)
			}
		}
	}
	rig := newRig(t, Defaults(Adaptive), nil)
	for length, legal := range map[int]bool{40: true, 41: false} {
		form := url.Values{"name": {strings.Repeat("x", length)}}
		_, _, body, err := newClient(rig.http.URL).send(http.MethodPost, "/begin", "application/x-www-form-urlencoded", form.Encode())
		if err != nil || strings.Contains(string(body), "up to 40 letters") == legal {
			t.Errorf("a name of %d: %v", length, err)
		}
	}
}

// Small chances are not printed as none, and one listener makes no interval.
func TestEdgesOfWhatIsSaid(t *testing.T) {
	if got, none := chance(0.000101), chance(0.000099); got != "0.0001" || none != "<0.0001" {
		t.Errorf("%q and %q", got, none)
	}
	for n, said := range map[int]string{1: "one listener", 2: "do not agree"} {
		m := MaterialResult{Pooled: &statistics.Pooled{N: n, Mean: -40}, Expected: &Prediction{Residual: -30}}
		if got := m.Agreement(); !strings.Contains(got, said) {
			t.Errorf("%d listeners: %q", n, got)
		}
	}
}
