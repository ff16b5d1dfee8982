package level

import (
	"math"
	"testing"
)

// The minimum-requirement test signals 1 to 4 of EBU Tech 3342, table 1 (from memory):
// stereo sine of 1 kHz, each level for 20 s; loudness range within 1 LU.
func TestEBULoudnessRange(t *testing.T) {
	for _, c := range []struct {
		levels []DB
		want   DB
	}{
		{[]DB{-20, -30}, 10},
		{[]DB{-20, -15}, 5},
		{[]DB{-40, -20}, 20},
		{[]DB{-50, -35, -20, -35, -50}, 15},
	} {
		m := NewMeter(48000, 2)
		var parts []part
		for _, l := range c.levels {
			parts = append(parts, part{l, 20})
		}
		play(m, 48000, 2, 1000, parts...)
		got, ok := m.Range()
		if !ok || math.Abs(float64(got-c.want)) > 0.1 {
			t.Errorf("%v dBFS: range %.3f LU (%v), want %g within 0.1 (the document allows 1)", c.levels, got, ok, c.want)
		}
	}
}

// A stereo sine of 1 kHz at -23 dBFS reads -23 LUFS (EBU Tech 3341, case 1) in every
// window; a window half of which is silent reads 3.01 LU less.
func TestSlidingWindows(t *testing.T) {
	m := NewMeter(44100, 2)
	play(m, 44100, 2, 1000, part{-23, 6}, part{-300, 6})
	course := m.Sliding(ShortTermSeconds)
	if len(course) != 91 {
		t.Fatalf("%d windows of 3 s in 12 s, want 91", len(course))
	}
	for at, want := range map[int]DB{5: -23, 30: -23, 45: -23 - 3.0103} {
		if math.Abs(float64(course[at]-want)) > 0.05 {
			t.Errorf("window at %d tenths: %.3f LUFS, want %.3f", at, course[at], want)
		}
	}
	if course[90] > -200 {
		t.Errorf("silence reads %g LUFS", course[90])
	}
	if got := m.Sliding(12.1); got != nil {
		t.Errorf("a window longer than the programme: %v", got)
	}
	if len(m.Sliding(12)) != 1 {
		t.Error("a window as long as the programme is not there")
	}
}

func TestNoRange(t *testing.T) {
	m := NewMeter(48000, 1)
	play(m, 48000, 1, 1000, part{-20, 2.9})
	if got, ok := m.Range(); ok {
		t.Errorf("2.9 s have a range of %g LU", got)
	}
	play(m, 48000, 1, 1000, part{-90, 10})
	if got, ok := m.Range(); !ok || got < 0 {
		t.Errorf("a tone and silence: %g LU (%v)", got, ok)
	}
}
