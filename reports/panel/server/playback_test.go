package server

import (
	"context"
	"math"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"quietcross/dsp/level"
	"quietcross/dsp/weighting"
)

// louder gives each material of the synthetic clips its own level.
type louder struct {
	*synthetic
	gain map[string]float64
}

func (c louder) scaled(material string, audio [][]float64) [][]float64 {
	for _, channel := range audio {
		for i := range channel {
			channel[i] *= c.gain[material]
		}
	}
	return audio
}

func (c louder) Reference(m string) (int, [][]float64, error) {
	rate, audio, err := c.synthetic.Reference(m)
	return rate, c.scaled(m, audio), err
}

func (c louder) Rendering(m string, q float64) ([][]float64, Rung, error) {
	audio, rung, err := c.synthetic.Rendering(m, q)
	return c.scaled(m, audio), rung, err
}

// fetched decodes a clip as the page does.
func fetched(t *testing.T, c *client, path string, channels int) [][]float32 {
	t.Helper()
	status, _, body, err := c.send("GET", path, "", "")
	if err != nil || status != http.StatusOK {
		t.Fatal(path, status, err)
	}
	frames := len(body) / 3 / channels
	out := make([][]float32, channels)
	for ch := range out {
		out[ch] = make([]float32, frames)
		for i := range out[ch] {
			b := body[3*(ch*frames+i):]
			out[ch][i] = float32(int32(b[0])|int32(b[1])<<8|int32(int8(b[2]))<<16) / fullScale
		}
	}
	return out
}

// Two materials 30 dB apart stay 30 dB apart at the ear, whatever their levels in the
// files, and the noise is as loud as the louder: within 0.5 LU of the plan, in fact within
// 0.1.
func TestOneLevelForTheWholeSet(t *testing.T) {
	for _, gain := range []float64{1, 0.02, 6} {
		clips := louder{&synthetic{rate: 48000, frames: 48000}, map[string]float64{"Bowed chord": gain, "Plucked line": gain * 0.0316228}}
		r := newRig(t, Defaults(Adaptive), func(c *Config) { c.Clips = clips })
		heard := map[string]float64{}
		var c *client
		for _, material := range clips.Materials() {
			c = r.listener(t, material, -45, 1)
			view, err := c.trial()
			must(t, err)
			for _, clip := range view.Clips {
				l := loudnessOf(fetched(t, c, "/clip/"+clip, view.Channels), view.Rate)
				if last, ok := heard[material]; ok && math.Abs(l-last) > 0.5 {
					t.Errorf("%s: clips of %.2f and %.2f LUFS", material, l, last)
				}
				heard[material] = l
			}
		}
		noise := loudnessOf(fetched(t, c, "/noise", 1), 48000)
		loud, soft := heard["Bowed chord"], heard["Plucked line"]
		// The materials themselves differ a little in loudness, and the largest residual
		// of this toy adds 0.13 LU.
		_, a, _ := clips.Reference("Bowed chord")
		_, b, _ := clips.Reference("Plucked line")
		want := loudnessOf(newSound(a).samples, 48000) - loudnessOf(newSound(b).samples, 48000)
		if math.Abs(loud-soft-want) > 0.2 || math.Abs(noise-loud) > 0.2 || math.Abs(noise-targetLoudness) > 0.05 {
			t.Errorf("gain %g: %.2f and %.2f LUFS, apart in the files by %.2f; the noise has %.2f", gain, loud, soft, want, noise)
		}
	}
}

// Peaks that would leave full scale hold the whole set down, and the noise with it.
func TestPeaksHoldTheSetDown(t *testing.T) {
	l := newLadder(t, shortClips())
	must(t, l.prepare(Defaults(Adaptive)))
	peaky := &ladder{rate: l.rate, peak: 0.9, loudness: -40}
	both := []*ladder{l, peaky}
	p := newPlayback(both, gainOf(both))
	if got := 0.9 * p.gain.Amplitude(); got > mostPeak+1e-9 {
		t.Errorf("a peak of %g", got)
	}
	if got, want := loudnessOf(p.noise.samples, l.rate), max(l.loudness, peaky.loudness)+float64(p.gain); math.Abs(got-want) > 0.05 {
		t.Errorf("noise of %.2f LUFS, want %.2f", got, want)
	}
}

// The noise lies in its band, has no seam, and its A-weighted level from the spectrum is
// that of the standard's filter (IEC 61672-1).
func TestReferenceNoise(t *testing.T) {
	const rate = 48000
	noise := referenceNoise(rate)
	if got := rootMean(noise); math.Abs(got-1) > 1e-4 {
		t.Errorf("RMS %g", got)
	}
	x := make([]float64, noise.frames())
	for i, v := range noise.samples[0] {
		x[i] = float64(v)
	}
	for hertz, in := range map[float64]bool{200: false, 490: false, 510: true, 600: true, 1900: true, 1990: true, 2010: false, 2600: false} {
		k := math.Round(hertz * float64(len(x)) / rate)
		re, im := 0.0, 0.0
		for i, v := range x {
			sin, cos := math.Sincos(2 * math.Pi * k * float64(i) / float64(len(x)))
			re, im = re+v*cos, im+v*sin
		}
		if a := math.Hypot(re, im) / float64(len(x)); in != (a > 1e-4) {
			t.Errorf("%g Hz: amplitude %g", hertz, a)
		}
	}
	filter := weighting.A(rate)
	y := make([]float64, len(x))
	filter.Process(y, x) // the second time round it has settled
	filter.Process(y, x)
	want := level.FromAmplitude(level.RMS(y) * math.Sqrt2)
	if got := weightedLevel(noise.samples[0], rate); math.Abs(float64(got-want)) > 0.05 {
		t.Errorf("A-weighted %.3f dB, by the filter %.3f", got, want)
	}
}

// A full-scale sine at 1 kHz in place of the noise would measure what fullScale says.
func TestFullScaleAtTheEar(t *testing.T) {
	p := fixedPlayback(-6, -23, 48000)
	// The noise is at -20 dB A-weighted, say, and measures 70 dB(A): a full-scale sine
	// of the clips is 90, and one of the files, played 6 dB down, 84.
	p.weighted = -20
	if got := p.fullScale(70); math.Abs(float64(got)-84) > 1e-9 {
		t.Errorf("%g dB SPL", got)
	}
}

// Without the noise played for its time nobody gets past the level page, whatever the
// page says; a level is set once and must come back; the plan's holds.
func TestNoiseMustBePlayed(t *testing.T) {
	plan := &Plan{Order: asListed, Settings: quick(Defaults(Adaptive)), SPL: 66}
	r := newRig(t, Defaults(Adaptive), func(c *Config) { c.Plan, c.Noise = plan, noiseLeast })
	c := newClient(r.http.URL)
	post := func(path, form string) (int, string) {
		kind := "application/x-www-form-urlencoded"
		if strings.HasPrefix(form, "{") {
			kind = "application/json"
		}
		status, _, body, err := c.send("POST", path, kind, form)
		must(t, err)
		return status, string(body)
	}
	if status, body := post("/begin", "consent=yes"); status != 200 {
		t.Fatal(status, body)
	}
	const level = "read=yes&how=meter&spl="
	if status, body := post("/level", level+"66"); status != 400 || !strings.Contains(body, "Play the reference noise") {
		t.Errorf("unheard: %d", status)
	}
	if status, _ := post("/noise", `{"seconds":9}`); status != 409 {
		t.Errorf("never fetched: %d", status)
	}
	fetched(t, c, "/noise", 1)
	if status, _ := post("/noise", `{"seconds":9}`); status != 409 {
		t.Errorf("not so long ago: %d", status)
	}
	c.playNoise(r)
	for _, bad := range []struct{ spl, want string }{{"62", "up by 4.0 dB"}, {"69", "down by 3.0 dB"}, {"90", "louder than 85"}, {"x", "30 to 85"}, {"", "30 to 85"}} {
		if status, body := post("/level", level+bad.spl); status != 400 || !strings.Contains(body, bad.want) {
			t.Errorf("%q: %d %s", bad.spl, status, body)
		}
	}
	if status, body := post("/level", "read=yes&how="); status != 400 || !strings.Contains(body, "laid down") {
		t.Errorf("not known: %d", status)
	}
	if status, body := post("/level", level+"67,5"); status != 200 {
		t.Errorf("%d %s", status, body)
	}
	v, _ := r.session(t, c)
	if v.SPL == nil || *v.SPL != 67.5 || v.Playback == nil || *v.Playback != r.server.level.fullScale(67.5) || v.Matched != "meter" || v.NoiseHeard < noiseLeast.Seconds() {
		t.Errorf("stored %+v", v)
	}
	if status, body := post("/level", level+"71"); status != 400 || !strings.Contains(body, "begun with the noise at 68") {
		t.Errorf("another level: %d %s", status, body)
	}
	if status, _ := post("/level", level+"67"); status != 200 {
		t.Errorf("again: %d", status)
	}
	if v, _ := r.session(t, c); *v.SPL != 67.5 {
		t.Errorf("the level moved to %g", *v.SPL)
	}
}

// The gain of a set is fixed by its first opening.
func TestGainIsKept(t *testing.T) {
	r := newRig(t, Defaults(Adaptive), nil)
	first := r.server.level.gain
	_, err := r.store.db.Exec("UPDATE fact SET value = value - 3 WHERE name LIKE 'gain %'")
	must(t, err)
	again, err := NewServer(Config{Clips: shortClips(), Store: r.store, Settings: Defaults(Adaptive)})
	must(t, err)
	must(t, again.Prepare(t.Context(), nil))
	if got := again.level.gain; math.Abs(float64(got-first)+3) > 1e-9 {
		t.Errorf("%g, then %g", first, got)
	}
}

// The threshold in quiet: a residual of one tone at 4 kHz is met where its level is
// that of ISO 226:2003, Table 1, -5.4 dB SPL at 4 kHz; and the dither lies where its
// variance says.
func TestFloor(t *testing.T) {
	const rate, frames = 48000, 48000
	ref, out := make([]float64, frames), make([]float64, frames)
	for i := range ref {
		ref[i] = 0.1 * math.Sin(2*math.Pi*311*float64(i)/rate)
		out[i] = ref[i] + 1e-4*math.Sin(2*math.Pi*3981.1*float64(i)/rate)
	}
	s := newSound([][]float64{ref})
	// 80 dB under full scale: heard from 80 - 5.4 dB SPL on.
	if got := float64(quietPlayback(s, [][]float64{out}, rate)); math.Abs(got-74.6) > 0.3 {
		t.Errorf("met at %.2f dB SPL", got)
	}
	// RMS of the reference -23.01 dB, of the dither 20 log10(0.5/2^23) = -144.49.
	if got := float64(ditherLevel(s, -10)); math.Abs(got-(-144.49+23.01+10)) > 0.02 {
		t.Errorf("dither at %.2f dB", got)
	}
	rungs := []Rung{{Residual: -40, Quiet: 60}, {Residual: -60, Quiet: 80}, {Residual: -70, Quiet: 90}}
	for playback, want := range map[level.DB]float64{50: -40, 70: -50, 85: -65, 95: math.Inf(-1)} {
		if got := quietResidual(rungs, playback); got != want && math.Abs(got-want) > 1e-9 {
			t.Errorf("at %g dB SPL: %g dB, want %g", playback, got, want)
		}
	}
	dither, playback := level.DB(-66), level.DB(95)
	v := &Session{Lo: -70, Dither: &dither, Playback: &playback}
	if f := newFloor(rungs, v); f == nil || f.Residual != -66 || !strings.Contains(f.Why, "dither") {
		t.Errorf("floor %+v", f)
	}
	playback = 70
	if f := newFloor(rungs, v); f == nil || f.Residual != -50 || !strings.Contains(f.Why, "threshold in quiet") {
		t.Errorf("floor %+v", f)
	}
}

// playNoise lets the noise have been fetched long enough ago, and says it was played.
func (c *client) playNoise(r *rig) {
	v, err := r.store.session(context.Background(), c.token())
	if err != nil {
		panic(err)
	}
	r.server.mu.Lock()
	r.server.fetched[v.ID] = time.Now().Add(-2 * noiseLeast)
	r.server.mu.Unlock()
	if status, _, body, err := c.send("POST", "/noise", "application/json", `{"seconds":6}`); err != nil || status != 200 {
		panic(string(body))
	}
}

// A reader of the noise that asks a question of the server before the last byte has gone.
type eager struct {
	http.ResponseWriter
	ask func()
}

func (e *eager) Write(b []byte) (int, error) {
	e.ask()
	return e.ResponseWriter.Write(b)
}

func (e *eager) Unwrap() http.ResponseWriter { return e.ResponseWriter }

// The noise counts as fetched when its first byte goes: a listener who says at once that it
// was played is not told that it never was.
func TestNoiseIsFetchedBeforeItArrives(t *testing.T) {
	r := newRig(t, Defaults(Adaptive), nil)
	asked, known := false, true
	r.server.getNoise(&eager{httptest.NewRecorder(), func() {
		r.server.mu.Lock()
		defer r.server.mu.Unlock()
		_, ok := r.server.fetched[7]
		asked, known = true, known && ok
	}}, nil, &Session{ID: 7})
	if !asked || !known {
		t.Errorf("asked %v, fetched %v", asked, known)
	}
}
