package audibility

import (
	"math"
	"path/filepath"
	"strings"
	"testing"

	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
	"quietcross/dsp/wave"
)

// Five percent more is a rise.
func TestRiseEdges(t *testing.T) {
	for by, want := range map[float64]int{0.045: 0, 0.055: 1} {
		if got := rises([]Point{{Detection: 0.2}, {Detection: 0.2 + by}}); len(got) != want {
			t.Errorf("by %g: %+v", by, got)
		}
	}
}

// The defaults are those that are documented.
func TestDefaults(t *testing.T) {
	o := DefaultOptions(1, 2)
	if o.PerDecade != 5 || o.Limit != 0.5 || o.Tolerance != 0.03 || o.Excerpt != 4 || o.Heard.Playback != 92 || o.Heard.RoomNR != 15 {
		t.Errorf("%+v", o)
	}
}

// What is legal at its ends; TestOptionErrors goes beyond them.
func TestLegalEnds(t *testing.T) {
	for name, change := range map[string]func(*Options){
		"5 a decade":     func(o *Options) { o.PerDecade = 5 },
		"500 a decade":   func(o *Options) { o.PerDecade = 500 },
		"limit":          func(o *Options) { o.Limit = 0.999 },
		"tolerance 1e-6": func(o *Options) { o.Tolerance = 1e-6 },
		"tolerance 1":    func(o *Options) { o.Tolerance = 1 },
		"excerpt 0.5":    func(o *Options) { o.Excerpt = 0.5 },
		"excerpt 60":     func(o *Options) { o.Excerpt = 60 },
		"one worker":     func(o *Options) { o.Workers = 1 },
	} {
		o := decades
		if change(&o); o.Check() != nil {
			t.Errorf("%s: %v", name, o.Check())
		}
	}
	for _, c := range []struct {
		channels int
		seconds  float64
		ok       bool
	}{{1, 1, true}, {2, 120, true}, {3, 1, false}, {2, 120.1, false}} {
		if err := fits(wave.Format{Rate: 1000, Channels: c.channels}, int64(1000*c.seconds)); (err == nil) != c.ok {
			t.Errorf("%+v: %v", c, err)
		}
	}
}

// A moment is loud up to 20 dB under the loudest, and a difference is heard at once up
// to the end of the first second.
func TestPassageEdges(t *testing.T) {
	moment := func(time float64, l level.DB, heard bool) hearing.Moment {
		return hearing.Moment{Time: time, Reference: l, DPrime: map[bool]float64{true: 2}[heard]}
	}
	for _, c := range []struct {
		at   float64
		l    level.DB
		want Passage
	}{{2, 60.5, Later}, {2, 59.5, QuietPassages}, {0.95, 80, FirstSecond}, {1.05, 80, Later}} {
		moments := []hearing.Moment{moment(0, 80, false), moment(c.at, c.l, true), moment(3, 80, false)}
		if got := passage(moments, 1); got != c.want {
			t.Errorf("%+v: %s", c, got)
		}
	}
}

// A map needs two levels and two currents, and levels that are evenly spaced.
func TestMapEdges(t *testing.T) {
	g := Grid{Quiescent: []float64{0, 0.1, 0.2}, Levels: []level.DB{0, -10}, Cells: [][]Cell{make([]Cell, 3), make([]Cell, 3)}, Thresholds: make([]*Threshold, 2)}
	if f, ok := mapFigure(0, g); !ok || math.Abs(f.Y.Hi-5) > 1e-9 || math.Abs(f.X.Lo-0.1/math.Sqrt2) > 1e-9 {
		t.Errorf("two by two: %v, %+v", ok, f)
	}
	fewer := g
	if fewer.Quiescent = g.Quiescent[:2]; func() bool { _, ok := mapFigure(0, fewer); return ok }() {
		t.Error("one current has a map")
	}
	if _, ok := mapFigure(0, Grid{Quiescent: g.Quiescent, Levels: g.Levels[:1], Cells: g.Cells[:1], Thresholds: g.Thresholds[:1]}); ok {
		t.Error("one level has a map")
	}
	for off, want := range map[level.DB]bool{0.8e-6: true, 1.5e-6: false} {
		if got := even(Grid{Levels: []level.DB{0, -10, -20 - off}}); got != want {
			t.Errorf("%g dB off: even %v", float64(off), got)
		}
	}
	for p, want := range map[float64]string{0: "0.0 %", 0.0009: "under 0.1 %", 0.0011: "0.1 %"} {
		if got := probability(p); got != want {
			t.Errorf("%g: %q", p, got)
		}
	}
}

// A d' that is next to nothing is written as that.
func TestSensitivityEdges(t *testing.T) {
	for d, want := range map[float64]string{0: "0", 0.0099: "under 0.01", 0.0101: "0.010", 1.23: "1.2"} {
		if got := Sensitivity(d); got != want {
			t.Errorf("%g: %q", d, got)
		}
	}
}

// A stretch is written at the ear model's rate, 48 kHz, and what comes from another is
// converted to it.
func TestEarRate(t *testing.T) {
	path := filepath.Join(t.TempDir(), "a.wav")
	if err := writeStretch(path, [][]float64{make([]float64, 48000)}, 0.25, 0.75); err != nil {
		t.Fatal(err)
	}
	format, audio, err := wave.ReadFile(path)
	if err != nil || format.Rate != 48000 || len(audio[0]) != 24000 || format.Bits != 24 {
		t.Errorf("%v, %d frames, %v", format, len(audio[0]), err)
	}
	same, err := ToEarRate([][]float64{{1, 2}}, 48000)
	if err != nil || len(same[0]) != 2 {
		t.Errorf("at 48 kHz: %v, %v", same, err)
	}
	half, err := ToEarRate([][]float64{make([]float64, 2400)}, 24000)
	if err != nil || len(half[0]) != 4800 {
		t.Errorf("from 24 kHz: %d frames, %v", len(half[0]), err)
	}
}

// The worst moment is the first whose d' is within 0.5 dB of the worst: 0.891 of it.
func TestEdgeOfTheWorst(t *testing.T) {
	for part, want := range map[float64]float64{0.9: 1, 0.88: 2} {
		if got := worst([]hearing.Moment{{Time: 0, DPrime: 0.1}, {Time: 1, DPrime: 10 * part}, {Time: 2, DPrime: 10}}, 10); got != want {
			t.Errorf("%g of the worst: at %g s, want %g", part, got, want)
		}
	}
}

// The standard's detection counts as heard above one half.
func TestEdgeOfTheStandard(t *testing.T) {
	point := func(quiescent, detection float64) Point {
		return Point{Quiescent: quiescent, Standard: &Standard{Detection: detection}}
	}
	for detection, want := range map[float64]string{0.51: "between 2", 0.49: "between 1"} {
		f := Finding{
			Threshold: &Threshold{Crossing: Crossing{Quiescent: 9}},
			Curve:     []Point{point(1, 1), point(2, detection), point(3, 0)},
		}
		if got := f.beside(); !strings.Contains(got, want) {
			t.Errorf("%g at the middle current: %q", detection, got)
		}
	}
}

// A range that begins or ends within a millionth of a step of a current of the lattice
// begins or ends there.
func TestEdgesOfTheLattice(t *testing.T) {
	off := func(steps float64) float64 { return math.Pow(10, steps/5) }
	for steps, more := range map[float64]int{0.8e-6: 0, 1.5e-6: 1} {
		if got := len(Lattice(1e-3/off(steps), 1e-2, 5)); got != 6+more {
			t.Errorf("%g of a step below the first: %d currents", steps, got)
		}
		if got := len(Lattice(1e-3, 1e-2*off(steps), 5)); got != 6+more {
			t.Errorf("%g of a step above the last: %d currents", steps, got)
		}
	}
	o := decades
	if o.PerDecade = 505; !strings.Contains(o.Check().Error(), "multiples of 5 up to 500") {
		t.Error(o.Check())
	}
}

// A sparse search begins at every fourth current of the coarsest lattice.
func TestSparseBegins(t *testing.T) {
	f, err := ExamineSparsely(t.Context(), faulty(func(float64) bool { return false }), DefaultOptions(1e-3, 9e-2))
	if err != nil || len(f.Curve) != 4 {
		t.Fatalf("%d currents, %v", len(f.Curve), err)
	}
	for i, want := range []float64{1e-3, 6.3096e-3, 3.9811e-2, 0.1} {
		if got := f.Curve[i].Quiescent; math.Abs(got/want-1) > 1e-4 {
			t.Errorf("current %d is %g A, want %g", i, got, want)
		}
	}
}

// The ends of a threshold's interval are bracketed to 15 %: about a step they lie within
// that, and are not looked for as nearly as half of it.
func TestIntervalIsAsNearAsSaid(t *testing.T) {
	o := DefaultOptions(2e-3, 5e-3)
	o.Tolerance = 1 // the threshold itself stays between currents of the lattice
	widest := 0.0
	for _, step := range []float64{2.8e-3, 3.3e-3} {
		f := examined(t, faulty(func(q float64) bool { return q < step }), o)
		i := 1
		for f.Curve[i].Quiescent < step {
			i++
		}
		widest = max(widest, f.Curve[i].Quiescent/f.Curve[i-1].Quiescent)
	}
	if widest > 1.15 || widest < 1.1 {
		t.Errorf("a step between currents of a ratio of %g", widest)
	}
}
