package audibility

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"quietcross/dsp/hearing"
	"quietcross/dsp/level"
)

// note is a decaying tone with overtones.
func note(seconds, amplitude, f float64) []float64 {
	x := make([]float64, int(seconds*EarRate))
	for i := range x {
		t := float64(i) / EarRate
		for h := 1.0; h <= 5; h++ {
			x[i] += amplitude / 2 / h * math.Sin(2*math.Pi*f*h*t) * math.Exp(-2*t)
		}
	}
	return x
}

func hiss(n int, amplitude float64) []float64 {
	r := rand.New(rand.NewPCG(3, 4))
	x := make([]float64, n)
	for i := range x {
		x[i] = amplitude * r.NormFloat64()
	}
	return x
}

// faulty is a case whose rendering has a plain fault at the currents that bad
// picks, and none at others. Bias is the current's logarithm, so that it can be
// checked.
func faulty(bad func(quiescent float64) bool) Case {
	return Case{Material: "note", Level: -20, Open: func(context.Context) ([][]float64, Render, error) {
		clean := note(0.5, 0.1, 330)
		fault := hiss(len(clean), 0.01)
		return [][]float64{clean}, func(_ context.Context, quiescent float64) (Rendering, error) {
			test := slices.Clone(clean)
			if bad(quiescent) {
				for i := range test {
					test[i] += fault[i]
				}
			}
			return Rendering{Test: [][]float64{test}, Bias: math.Log(max(quiescent, 1e-9))}, nil
		}, nil
	}}
}

var decades = DefaultOptions(1e-5, 1)

func examined(t *testing.T, c Case, o Options) Finding {
	t.Helper()
	f, err := Examine(t.Context(), c, o)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

// The step of a fault that ends at a known current is found to the tolerance.
func TestThresholdOfAKnownStep(t *testing.T) {
	const step = 3.3e-3
	for _, tolerance := range []float64{0.05, 0.001} {
		o := decades
		o.Tolerance = tolerance
		f := examined(t, faulty(func(i float64) bool { return i < step }), o)
		if len(f.Crossings) != 1 || f.Threshold == nil {
			t.Fatalf("crossings %+v", f.Crossings)
		}
		c := *f.Threshold
		if c.Low > step || c.High < step || c.High > c.Low*(1+tolerance) || c.Rising {
			t.Errorf("crossing %+v, want it about %g", c, step)
		}
		if math.Abs(c.Bias-math.Log(c.Quiescent)) > tolerance {
			t.Errorf("bias %g at %g A", c.Bias, c.Quiescent)
		}
		if !slices.IsSortedFunc(f.Curve, func(a, b Point) int { return int(math.Copysign(1, a.Quiescent-b.Quiescent)) }) {
			t.Error("curve out of order")
		}
		if want := "predicted audible below 3."; !strings.Contains(f.Summary, want) {
			t.Errorf("summary %q, want %q in it", f.Summary, want)
		}
	}
}

// Every crossing of a probability that falls, rises and falls is reported.
func TestAllCrossings(t *testing.T) {
	f := examined(t, faulty(func(i float64) bool { return i < 2e-4 || i > 5e-3 && i < 0.2 }), decades)
	want := []struct {
		at     float64
		rising bool
	}{{2e-4, false}, {5e-3, true}, {0.2, false}}
	if len(f.Crossings) != len(want) {
		t.Fatalf("crossings %+v", f.Crossings)
	}
	for i, w := range want {
		c := f.Crossings[i]
		if c.Low > w.at || c.High < w.at || c.Rising != w.rising {
			t.Errorf("crossing %+v, want %+v", c, w)
		}
	}
	if f.Threshold.Crossing != f.Crossings[0] {
		t.Errorf("threshold %+v", f.Threshold)
	}
	if len(f.Rises) != 1 || f.Rises[0].From > 5e-3 || f.Rises[0].To < 5e-3 || f.Rises[0].By < 0.5 {
		t.Errorf("rises %+v", f.Rises)
	}
	if !strings.Contains(f.Summary, "more than one range") {
		t.Errorf("summary %q", f.Summary)
	}
}

// A fault that begins with more current has a crossing but no threshold.
func TestRisingOnly(t *testing.T) {
	f := examined(t, faulty(func(i float64) bool { return i > 3.3e-3 }), decades)
	if f.Threshold != nil || len(f.Crossings) != 1 || !f.Crossings[0].Rising ||
		!strings.Contains(f.Summary, "predicted audible above 3.") {
		t.Errorf("%+v: %s", f.Crossings, f.Summary)
	}
}

// Without a crossing there is no threshold, and the words say which side.
func TestNoCrossing(t *testing.T) {
	for want, bad := range map[string]bool{
		"not predicted audible at any current tried from 0A to 1A": false,
		"predicted audible at every current tried from 0A to 1A":   true,
	} {
		f := examined(t, faulty(func(float64) bool { return bad }), decades)
		if f.Threshold != nil || len(f.Crossings) != 0 || !strings.Contains(f.Summary, want) {
			t.Errorf("%+v: %s", f.Crossings, f.Summary)
		}
	}
}

// A stage that is heard without any current only has its threshold between none
// and the minimum searched, where there is no logarithm to halve.
func TestCrossingAtNoCurrent(t *testing.T) {
	o := decades
	f := examined(t, faulty(func(i float64) bool { return i == 0 }), o)
	if f.Threshold == nil || f.Threshold.Low != 0 || f.Threshold.High != o.Low || f.Curve[0].Quiescent != 0 {
		t.Errorf("threshold %+v", f.Threshold)
	}
	if !strings.Contains(f.Summary, "between none and 10uA") {
		t.Errorf("summary %q", f.Summary)
	}
}

// No text may call a difference inaudible, and every one has its conditions.
func TestWordsCarryConditions(t *testing.T) {
	o := decades
	o.Heard.Playback = 86.5
	for _, f := range []Finding{
		examined(t, faulty(func(i float64) bool { return i < 1e-3 }), o),
		examined(t, faulty(func(float64) bool { return false }), o),
		examined(t, faulty(func(float64) bool { return true }), o),
	} {
		texts := []string{f.Summary}
		for _, p := range f.Curve {
			texts = append(texts, p.Verdict)
		}
		for _, text := range texts {
			if strings.Contains(text, "inaudible") || !strings.Contains(text, "86.5 dB SPL") || !strings.Contains(text, "blind test") {
				t.Errorf("%q", text)
			}
		}
	}
}

// Currents without an operating point are noted and passed over.
func TestFailuresAreData(t *testing.T) {
	c := faulty(func(i float64) bool { return i < 1e-3 })
	open := c.Open
	c.Open = func(ctx context.Context) ([][]float64, Render, error) {
		ref, render, err := open(ctx)
		return ref, func(ctx context.Context, quiescent float64) (Rendering, error) {
			switch {
			case quiescent > 0.3:
				return Rendering{}, errors.New("thermal runaway")
			case quiescent < 2e-5:
				return Rendering{Test: [][]float64{{1, 2, 3}}}, nil
			case quiescent < 5e-5:
				bad := slices.Clone(ref[0])
				bad[2000] = math.NaN()
				return Rendering{Test: [][]float64{bad}}, nil
			}
			return render(ctx, quiescent)
		}, err
	}
	f := examined(t, c, decades)
	if f.Threshold == nil || f.Threshold.Low > 1e-3 || f.Threshold.High < 1e-3 {
		t.Errorf("threshold %+v", f.Threshold)
	}
	var reasons strings.Builder
	for _, x := range f.Failures {
		reasons.WriteString(x.Reason + "\n")
	}
	for _, want := range []string{"3 frames", "not finite", "thermal runaway"} {
		if !strings.Contains(reasons.String(), want) {
			t.Errorf("failures %q lack %q", reasons.String(), want)
		}
	}
	c.Open = func(context.Context) ([][]float64, Render, error) { return nil, nil, errors.New("no such file") }
	f = examined(t, c, decades)
	if f.Error != "no such file" || !strings.Contains(f.Summary, "no prediction") {
		t.Errorf("%+v", f)
	}
	c.Open = func(context.Context) ([][]float64, Render, error) { return [][]float64{{1}, {1, 2}}, nil, nil }
	if f = examined(t, c, decades); !strings.Contains(f.Error, "channel 1 has 2 frames") {
		t.Errorf("error %q", f.Error)
	}
}

// The same cases give the same bytes whatever the number of workers, in the
// order of the cases, and progress is told for each.
func TestWorkersDoNotMatter(t *testing.T) {
	var cases []Case
	for i := range 4 {
		c := faulty(func(q float64) bool { return q < math.Pow(10, -4+float64(i)/2) })
		c.Level = -level.DB(i)
		cases = append(cases, c)
	}
	var first []byte
	for _, workers := range []int{1, 3, 50} {
		o := decades
		o.Workers = workers
		told := 0
		o.Progress = func(done, total int) {
			if told++; done != told || total != len(cases) {
				t.Errorf("progress %d of %d after %d calls", done, total, told)
			}
		}
		findings, err := Run(t.Context(), cases, o)
		if err != nil {
			t.Fatal(err)
		}
		text, err := json.Marshal(findings)
		if err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = text
		}
		if !bytes.Equal(text, first) || told != len(cases) {
			t.Errorf("%d workers: findings differ, %d told", workers, told)
		}
		for i, f := range findings {
			if f.Level != cases[i].Level {
				t.Errorf("finding %d is of %g dB", i, float64(f.Level))
			}
		}
	}
}

func TestCancelledRun(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	c := faulty(func(float64) bool { cancel(); return true })
	if _, err := Run(ctx, []Case{c, c, c}, decades); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v", err)
	}
}

func TestOptionErrors(t *testing.T) {
	for want, spoil := range map[string]func(*Options){
		"from 0 A":        func(o *Options) { o.Low = 0 },
		"above 0 and":     func(o *Options) { o.High = o.Low },
		"110.1 dB SPL":    func(o *Options) { o.Heard.Playback = 110.1 },
		"19.9 dB SPL":     func(o *Options) { o.Heard.Playback = 19.9 },
		"0 dB SPL":        func(o *Options) { o.Heard.Playback = 0 },
		"NaN dB SPL":      func(o *Options) { o.Heard.Playback = level.DB(math.NaN()) },
		"4 currents":      func(o *Options) { o.PerDecade = 4 },
		"0 currents":      func(o *Options) { o.PerDecade = 0 },
		"7 currents":      func(o *Options) { o.PerDecade = 7 },
		"505 currents":    func(o *Options) { o.PerDecade = 505 },
		"NR 61":           func(o *Options) { o.Heard.RoomNR = 61 },
		"limit 1":         func(o *Options) { o.Limit = 1 },
		"limit 0":         func(o *Options) { o.Limit = 0 },
		"tolerance 1.01":  func(o *Options) { o.Tolerance = 1.01 },
		"tolerance 9e-07": func(o *Options) { o.Tolerance = 0.9e-6 },
		"excerpt of 61":   func(o *Options) { o.Excerpt = 61 },
		"excerpt of 0.4":  func(o *Options) { o.Excerpt = 0.4 },
		"0 workers":       func(o *Options) { o.Workers = 0 },
		"-1 workers":      func(o *Options) { o.Workers = -1 },
	} {
		o := decades
		spoil(&o)
		if _, err := Run(t.Context(), nil, o); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want %q in it", err, want)
		}
	}
}

// A smooth curve is narrowed to a fiftieth in a few renderings, and one that runs flat before
// it falls needs no more than halving would take, twice.
func TestNarrowTakesFewRenderings(t *testing.T) {
	o := DefaultOptions(1e-4, 1)
	o.Tolerance = 0.02
	limit, one := hearing.Sensitivity(o.Limit), unit(t, o)
	for name, c := range map[string]struct {
		d    func(q float64) float64
		most int
	}{
		"smooth": {func(q float64) float64 { return math.Pow(3.1e-3/q, 1.5) }, 3},
		"bent":   {func(q float64) float64 { return 1.05 * math.Exp(-math.Pow(q/8e-3, 3)) / math.Exp(-math.Pow(3.1/8, 3)) }, 5},
		"step":   {func(q float64) float64 { return 1e-3 + 9*math.Round(min(1, max(0, 3.1e-3/q-0.5))) }, 12},
	} {
		f := examined(t, patchy(func(q float64) float64 { return limit / one * c.d(max(q, 1e-6)) }), o)
		if f.Threshold == nil || f.Threshold.High > f.Threshold.Low*(1+o.Tolerance) {
			t.Fatalf("%s: %+v", name, f.Threshold)
		}
		looks := 0
		for _, p := range f.Curve {
			k := 5 * math.Log10(p.Quiescent)
			if math.Abs(k-math.Round(k)) > 1e-9 && p.Quiescent > f.Threshold.Interval.Low*1.2 && p.Quiescent < f.Threshold.Interval.High/1.2 {
				looks++
			}
		}
		if looks > c.most {
			t.Errorf("%s: %d renderings between the lattice's", name, looks)
		}
	}
}
