package survey

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"quietcross/dsp/level"
)

// passage is noise at a level, or gliding from one to another.
type passage struct {
	from, to level.DB
	seconds  float64
}

// scannedOf measures passages of noise at 8 kHz, as a scan does.
func scannedOf(t *testing.T, passages ...passage) *scanned {
	t.Helper()
	const rate = 8000
	random := rand.New(rand.NewPCG(5, 5))
	s := &scanned{meter: level.NewLoudness(rate, 1)}
	for _, p := range passages {
		x := make([]float64, int(p.seconds*rate))
		for i := range x {
			at := p.from + (p.to-p.from)*level.DB(float64(i)/float64(len(x)))
			x[i] = at.Amplitude() * random.NormFloat64()
		}
		s.meter.Add([][]float64{x})
		s.Seconds += p.seconds
	}
	return s
}

func chosen(t *testing.T, s *scanned, o Options) (map[Kind]Excerpt, []string) {
	t.Helper()
	excerpts, without := choose(s, "some recording", &o)
	found := map[Kind]Excerpt{}
	for _, e := range excerpts {
		if e.To > s.Seconds+1e-9 || e.From < 0 || math.Abs(e.To-e.From-min(o.Length, s.Seconds)) > 1e-9 {
			t.Errorf("%s: %g to %g s of %g s", e.Kind, e.From, e.To, s.Seconds)
		}
		found[e.Kind] = e
	}
	return found, without
}

// A piece made of known passages: loud, silence, quiet, loud, a fade.
func TestChooseByTheRule(t *testing.T) {
	s := scannedOf(t, passage{-20, -20, 30}, passage{-200, -200, 15}, passage{-45, -45, 25}, passage{-22, -22, 30}, passage{-22, -62, 20}, passage{-200, -200, 5})
	found, without := chosen(t, s, DefaultOptions())
	if len(without) != 0 {
		t.Errorf("without %v", without)
	}
	if q := found[KindQuiet]; q.From < 44.6 || q.To > 70.1 {
		t.Errorf("quiet is %g to %g s, want it within 45 to 70, but for one window of 0.4 s: silence is no passage", q.From, q.To)
	}
	if f := found[KindFade]; math.Abs(f.To-122) > 2.5 {
		t.Errorf("the fade ends at %g s, want 120 and up to a window of 3 s", f.To)
	}
	if l := found[KindLoud]; l.To > 30.1 {
		t.Errorf("loud is %g to %g s, want it in the first 30", l.From, l.To)
	}
}

// The seed chooses among equally loud passages, and nothing else.
func TestSeedChoosesLoudPassage(t *testing.T) {
	s := scannedOf(t, passage{-20, -20, 40}, passage{-40, -40, 20})
	places := map[float64]bool{}
	for seed := range uint64(6) {
		o := DefaultOptions()
		o.Seed = seed
		found, _ := chosen(t, s, o)
		again, _ := chosen(t, s, o)
		if found[KindLoud] != again[KindLoud] {
			t.Error("one seed chooses twice")
		}
		places[found[KindLoud].From] = true
	}
	if len(places) < 4 {
		t.Errorf("6 seeds choose %d places of 300", len(places))
	}
}

func TestChooseLeavesOut(t *testing.T) {
	for _, c := range []struct {
		what     string
		passages []passage
		kinds    []Kind
		without  string
	}{
		{"a short recording", []passage{{-20, -20, 8}}, []Kind{KindWhole}, ""},
		{"a steady one", []passage{{-20, -20, 11}}, []Kind{KindQuiet}, "fade: no fade of 10 LU; loud: more than half of it lies in the quiet excerpt"},
		{"a fall of 8 LU", []passage{{-20, -20, 30}, {-20, -28, 20}, {-28, -28, 20}}, []Kind{KindQuiet, KindLoud}, "fade: no fade of 10 LU"},
		{"a fall that rises on the way", []passage{{-20, -27, 20}, {-23, -23, 20}, {-23, -30, 20}}, []Kind{KindQuiet, KindLoud}, "fade: no fade of 10 LU"},
		{"silence everywhere", []passage{{-20, -20, 3}, {-200, -200, 7}, {-20, -20, 3}, {-200, -200, 7}}, []Kind{KindQuiet}, "fade: no fade of 10 LU; loud: more than half of it lies in the quiet excerpt"},
		{"one decay", []passage{{-20, -65, 12}}, []Kind{KindQuiet}, "fade: more than half of it lies in the quiet excerpt; loud: more than half of it lies in the quiet excerpt"},
	} {
		found, without := chosen(t, scannedOf(t, c.passages...), DefaultOptions())
		if got := strings.Join(without, "; "); got != c.without {
			t.Errorf("%s: without %q, want %q", c.what, got, c.without)
		}
		for _, kind := range c.kinds {
			if _, ok := found[kind]; !ok || len(found) != len(c.kinds) {
				t.Errorf("%s: found %v, want %v", c.what, found, c.kinds)
			}
		}
	}
}
