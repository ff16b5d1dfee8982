package sweep

import (
	"context"
	"encoding/json"
	"errors"
	"math"
	"testing"

	"quietcross/dsp/distortion"
	"quietcross/dsp/level"
	"quietcross/stage"
)

func builtin(t testing.TB) stage.Spec {
	t.Helper()
	spec, err := stage.Lookup(stage.Builtin()[0].Name)
	if err != nil {
		t.Fatal(err)
	}
	return spec
}

// with returns the default options with settings and levels of their own.
func with(spec stage.Spec, settings []stage.Setting, levels ...level.DB) Options {
	o := DefaultOptions(spec)
	o.Settings = settings
	if levels != nil {
		o.Levels = levels
	}
	return o
}

func near(t *testing.T, name string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Abs(want)) {
		t.Errorf("%s: %.9g, want %.9g", name, got, want)
	}
}

// A point of the grid against the slow and obvious way: a tone sample by sample
// through the solved network, measured as a recording would be.
func TestGridAgainstSampledTone(t *testing.T) {
	spec := builtin(t)
	settings := []stage.Setting{stage.Bias(0), stage.Bias(1.1)}
	o := with(spec, settings, 0, -20)
	o.Frequencies = []float64{997}
	g, err := Run(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	st, err := stage.New(spec)
	if err != nil {
		t.Fatal(err)
	}
	for i, setting := range settings {
		biased, err := st.Set(setting)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range g.Curves[i].Points {
			// 32 cycles of 512 samples: harmonics to 20 with little folded back.
			x := make([]float64, 32*512)
			for k := range 512 {
				out, _, err := biased.Transfer(p.Input * math.Cos(2*math.Pi*float64(k)/512))
				if err != nil {
					t.Fatal(err)
				}
				for c := range 32 {
					x[c*512+k] = out
				}
			}
			tone, err := distortion.Harmonics(x, 512*997)
			if err != nil {
				t.Fatal(err)
			}
			near(t, "output", p.Tones[0].Output, tone.Fundamental.Amplitude(), 1e-4)
			for n := 3; n <= 9; n += 2 {
				near(t, "harmonic", math.Abs(p.Tones[0].Harmonics[n-2]), tone.Harmonics[n-2].Amplitude()/tone.Fundamental.Amplitude(), 0.01)
			}
		}
	}
}

// TestCircuitsWithMemory sweeps stages that are rendered in time: their midband law is
// swept, and behind a driver that inverts its gains are negative.
func TestCircuitsWithMemory(t *testing.T) {
	for _, row := range []struct {
		name string
		sign float64
	}{{"push-pull-divider", 1}, {"push-pull-driven", 1}, {"pair-12w-driven", -1}} {
		spec, err := stage.Lookup(row.name)
		if err != nil {
			t.Fatal(err)
		}
		g, err := Run(t.Context(), with(spec, []stage.Setting{stage.AsBuilt()}, 0, -20))
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range g.Curves[0].Points {
			if !(p.GainAtZero*row.sign > 0.1) || !(p.MinimumGain*row.sign > 0) || !(p.Tones[1].THD > 1e-5 && p.Tones[1].THD < 0.2) {
				t.Errorf("%s: %+v", row.name, p)
			}
		}
	}
}

func TestRunDefaults(t *testing.T) {
	g, err := Run(t.Context(), DefaultOptions(builtin(t)))
	if err != nil {
		t.Fatal(err)
	}
	if len(g.Curves) < 6 || len(g.Levels) != 31 || len(g.Frequencies) != 3 {
		t.Fatalf("%d biases, %d levels, %d frequencies", len(g.Curves), len(g.Levels), len(g.Frequencies))
	}
	for _, c := range g.Curves {
		if c.Refusal != "" || len(c.Points) != len(g.Levels) {
			t.Errorf("%s: %d points, refusal %q", c.Label, len(c.Points), c.Refusal)
		}
		for _, p := range c.Points {
			if len(p.Tones) != 3 || !(p.Tones[0].THD >= 0) || !(p.Tones[0].Output > 0) || p.Clipped {
				t.Errorf("%s at %v dB: %+v", c.Label, p.Level, p)
			}
		}
	}
	if _, err := json.Marshal(g); err != nil {
		t.Error(err)
	}
}

func TestRunRefusals(t *testing.T) {
	spec := builtin(t)
	for name, spoil := range map[string]func(*Options){
		"no stage":       func(o *Options) { o.Spec = stage.Spec{} },
		"no levels":      func(o *Options) { o.Levels = nil },
		"no frequencies": func(o *Options) { o.Frequencies = nil },
		"frequency low":  func(o *Options) { o.Frequencies = []float64{0.99} },
		"frequency high": func(o *Options) { o.Frequencies = []float64{20001} },
		"level high":     func(o *Options) { o.Levels = []level.DB{40.1} },
		"level low":      func(o *Options) { o.Levels = []level.DB{-120.1} },
		"negative drive": func(o *Options) { o.Drive = new(-1.0) },
		"drive of zero":  func(o *Options) { o.Drive = new(0.0) },
		"no workers":     func(o *Options) { o.Workers = 0 },
	} {
		o := DefaultOptions(spec)
		spoil(&o)
		if _, err := Run(t.Context(), o); err == nil {
			t.Errorf("%s was swept", name)
		}
	}
	legal := with(spec, []stage.Setting{stage.Bias(1.2)}, 40, -120)
	legal.Frequencies, legal.Workers = []float64{1, 20000}, 1
	if _, err := Run(t.Context(), legal); err != nil {
		t.Errorf("the ends of what is legal: %v", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := Run(ctx, DefaultOptions(spec)); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
	// A bias beyond anything the stage survives is a refusal of its curve.
	g, err := Run(t.Context(), with(spec, []stage.Setting{stage.Quiescent(1e6)}, 0))
	if err != nil || g.Curves[0].Refusal == "" {
		t.Errorf("a quiescent current of 1 MA: %v, %+v", err, g)
	}
}

func BenchmarkGrid(b *testing.B) {
	spec := builtin(b)
	var settings []stage.Setting
	for k := range 12 {
		settings = append(settings, stage.Quiescent(1e-4*math.Pow(2, float64(k))))
	}
	var levels []level.DB
	for k := range 30 {
		levels = append(levels, level.DB(-2*k))
	}
	for b.Loop() {
		if _, err := Run(b.Context(), with(spec, settings, levels...)); err != nil {
			b.Fatal(err)
		}
	}
}
