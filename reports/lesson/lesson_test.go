package lesson

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"strings"
	"sync"
	"testing"
	"testing/fstest"

	"quietcross/reports/live"
	"quietcross/reports/live/engine"
	"quietcross/stage"
)

// made is an engine in name only: what is worked out needs none.
var made = fstest.MapFS{live.EngineFile: {Data: []byte("packed")}, live.SupportFile: {Data: []byte("// support")}}

// lessons are those worked out so far, for all tests, on one stand: what they have in
// common is worked out once.
var lessons = struct {
	sync.Mutex
	stand *stand
	done  map[string]*Lesson
	errs  map[string]error
}{done: map[string]*Lesson{}, errs: map[string]error{}}

func tried(t *testing.T, name string) (*Lesson, error) {
	t.Helper()
	lessons.Lock()
	defer lessons.Unlock()
	if l, ok := lessons.done[name]; ok {
		return l, lessons.errs[name]
	}
	spec, err := stage.Lookup(name)
	if err != nil {
		t.Fatal(err)
	}
	o := DefaultOptions(spec, name)
	o.Engine = made
	if lessons.stand == nil {
		if lessons.stand, err = newStand(context.Background(), o.Heard, o.Seed); err != nil {
			t.Fatal(err)
		}
	}
	l := &Lesson{options: o}
	if l.parts, err = live.NewParts(made); err != nil {
		t.Fatal(err)
	}
	err = l.tell(lessons.stand)
	lessons.done[name], lessons.errs[name] = l, err
	return l, err
}

func built(t *testing.T, name string) *Lesson {
	t.Helper()
	l, err := tried(t, name)
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// fit are the built-in stages that the lesson is told with, which cannot become fewer
// unnoticed; usual are a bipolar and a field-effect pair, all that a run tries without
// QUIETCROSS_LONG.
var (
	fit   = []string{"pair-1w", "pair-12w", "pair-60w", "pair-12w-speaker", "pair-12w-driven", "pair-12w-multiplier", "single-supply-5w", "darlington-30w", "feedback-pair-30w", "fet-30w"}
	usual = []string{"pair-12w", "fet-30w"}
)

// accepted calls f with the lesson of each built-in stage that is fit, or of the usual.
func accepted(t *testing.T, f func(t *testing.T, l *Lesson)) {
	names := usual
	if os.Getenv("QUIETCROSS_LONG") != "" {
		names = fit
	}
	for _, name := range names {
		t.Run(name, func(t *testing.T) { f(t, built(t, name)) })
	}
}

// TestUnfit: every other built-in stage is refused with a reason, before long.
func TestUnfit(t *testing.T) {
	for _, named := range stage.Builtin() {
		if strings.Contains(strings.Join(fit, " ")+" ", named.Name+" ") {
			continue
		}
		_, err := tried(t, named.Name)
		if !errors.Is(err, ErrUnfit) || len(err.Error()) < 60 {
			t.Errorf("%s: %v", named.Name, err)
		}
	}
}

// TestSounds: where a line says that a fault is heard, the sound is over -45 dBFS and
// detected with more than 0.9; where next to nothing comes out the line says so; and what
// is turned up is as loud as the music that went in, within 0.3 LU.
func TestSounds(t *testing.T) {
	accepted(t, func(t *testing.T, l *Lesson) {
		compared := 0
		for _, s := range l.steps {
			for i := range s.sounds {
				x := &s.sounds[i]
				v, says := x.verdict, x.says()
				where := fmt.Sprintf("step %d, %s (%s)", s.number, x.label, says)
				if v == nil {
					if x.monitor == engine.Output {
						t.Errorf("%s: nothing is predicted", where)
					}
					continue
				}
				compared++
				if silent := v.Peak <= -45; silent != strings.Contains(says, "silence") {
					t.Errorf("%s: peak %.1f dBFS", where, float64(v.Peak))
				}
				if heard := strings.HasPrefix(says, "predicted: heard"); heard != (v.Detection > 0.9 && v.Peak > -45) {
					t.Errorf("%s: detection %.3f at %.1f dBFS", where, v.Detection, float64(v.Peak))
				}
				if v.Silent || math.Abs(float64(v.Apart)) > 0.3 {
					t.Errorf("%s: %.2f LU from the music", where, float64(v.Apart))
				}
				if v.Peak > 0 {
					t.Errorf("%s: peak %.2f dBFS", where, float64(v.Peak))
				}
			}
		}
		if compared < 20 {
			t.Errorf("only %d sounds have a prediction", compared)
		}
		if first := &l.steps[0].sounds[1]; !first.audible() {
			t.Errorf("the lesson begins with %q", first.says())
		}
	})
}

// TestOwnRefusals: what the page could not play is refused before anything is worked out.
func TestOwnRefusals(t *testing.T) {
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	o := DefaultOptions(spec, "pair-12w")
	if _, err := Build(t.Context(), o); err != nil && !errors.Is(err, live.ErrNoEngine) {
		t.Errorf("without an engine: %v", err)
	}
	o.Engine, o.Own = made, &Own{"song.wav", []byte("no sound")}
	if _, err := Build(t.Context(), o); err == nil || !strings.Contains(err.Error(), "song.wav") {
		t.Errorf("no sound: %v", err)
	}
	for size, long := range map[int]bool{32 << 20: false, 32<<20 + 1: true} {
		o.Own.Data = make([]byte, size)
		if _, err := Build(t.Context(), o); err == nil || strings.Contains(err.Error(), "dropped") != long {
			t.Errorf("%d bytes: %v", size, err)
		}
	}
	o.Own, o.Heard.Playback = nil, 200
	if _, err := Build(t.Context(), o); err == nil || !strings.Contains(err.Error(), "200") {
		t.Errorf("too loud: %v", err)
	}
}

// TestShellWord: a file's name comes back from a shell as it was.
func TestShellWord(t *testing.T) {
	for word, want := range map[string]string{"pair-12w": "pair-12w", "my amp.toml": "'my amp.toml'", "it's": `'it'\''s'`} {
		if got := shellWord(word); got != want {
			t.Errorf("%s: %s, want %s", word, got, want)
		}
	}
}
