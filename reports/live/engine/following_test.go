package engine

import (
	"math"
	"slices"
	"testing"

	"quietcross/corpus/render"
	"quietcross/dsp/level"
	"quietcross/stage"
)

// circuitOf solves a built-in stage for a player to follow.
func circuitOf(t *testing.T, name, mode string, value float64) (*Solution, *Circuit, *Sheet) {
	t.Helper()
	s, sheet := solve(t, name, mode, value, 0, false)
	c, err := s.Circuit()
	must(t, err)
	return s, c, sheet
}

// TestInTimeLikeRender holds what the page plays in time to what the render package makes
// of the same audio in time, output and reference: the bar is -140 dB re full scale. Neither
// takes powers; the browser's test holds what is saved to the command, where both do.
func TestInTimeLikeRender(t *testing.T) {
	audio := music(48000, 0.9)
	for c := range audio {
		audio[c] = audio[c][:30000]
	}
	for _, c := range []struct {
		stage   string
		setting stage.Setting
		mode    string
		value   float64
		level   level.DB
	}{
		{"pair-12w-speaker", stage.Bias(1.1), "bias", 1.1, -6},
		{"pair-12w-speaker", stage.Quiescent(0.012), "quiescent", 0.012, -6},
		{"single-supply-5w", stage.Quiescent(0.01), "quiescent", 0.01, -20},
		{"push-pull-divider", stage.AsBuilt(), "as-built", 0, -30},
	} {
		spec, err := stage.Lookup(c.stage)
		must(t, err)
		bench, err := render.NewBench(render.Options{Spec: spec, Levels: []level.DB{c.level}, Match: render.MatchOff, Solver: render.SolverDynamic})
		must(t, err)
		want, err := bench.Render(t.Context(), double(audio), 48000, c.level, c.setting)
		must(t, err)
		s, circuit, sheet := circuitOf(t, c.stage, c.mode, c.value)
		for m, x := range map[Monitor][][]float64{Output: want.Output, Reference: want.Reference} {
			p, err := NewPlayer(audio, 48000, s.Law, sheet.Drive, Controls{Level: c.level, Monitor: m})
			must(t, err)
			must(t, p.FollowWhole(*circuit))
			got, err := p.record(func(float64) bool { return true })
			must(t, err)
			d := apart(t, got, x)
			t.Logf("%s at %s, %g dB: %s %.1f dB re full scale apart", c.stage, c.setting, float64(c.level), m, float64(d))
			if d > -140 {
				t.Errorf("%s at %s: %s %.1f dB apart", c.stage, c.setting, m, float64(d))
			}
		}
	}
}

// TestFollowsFromRest: a stage that is chosen while nothing plays is followed as it is told then.
func TestFollowsFromRest(t *testing.T) {
	s, circuit, sheet := circuitOf(t, "pair-12w-speaker", "as-built", 0)
	p, err := NewPlayer(music(48000, 0.5), 48000, s.Law, sheet.Drive, Controls{Monitor: Output, Loop: true, Paused: true})
	must(t, err)
	p.SetStage(s.Law, sheet.Drive)
	p.Follow(*circuit)
	must(t, p.Set(Controls{Monitor: Output, Loop: true}))
	played(p, make([][]float32, 2), 10)
	if !p.Coming() {
		t.Error("it is followed no longer")
	}
}

// TestCircuitTravels: a stage that an ideal source biases is set to that source's own volts, and
// not to what is measured at the solved bias point, whose rounding decides which steps are split.
func TestCircuitTravels(t *testing.T) {
	for _, volts := range []float64{0, 0.7, 1.1, 1.23} {
		_, circuit, _ := circuitOf(t, "pair-12w-speaker", "bias", volts)
		set, err := circuit.Stage.set()
		must(t, err)
		if set.Setting() != stage.Bias(volts) {
			t.Errorf("at %g V it is set to %v, %g V off", volts, set.Setting(), set.Setting().Value()-volts)
		}
	}
}

// TestFollows: a circuit in time takes over from its law without a step, is then what it
// would have been had it been followed from the beginning, and gives way to a new law at
// once. What is left of the states at rest it began with is under -60 dB after 1.5 s: the
// loudspeaker's resonance decays e-fold in 10 ms, the slowest coupling in 0.2 s.
func TestFollows(t *testing.T) {
	audio := music(48000, 0.5)
	for c := range audio {
		audio[c] = append(audio[c], audio[c]...)
	}
	s, circuit, sheet := circuitOf(t, "pair-12w-speaker", "as-built", 0)
	controls := Controls{Monitor: Output, Level: -6}
	p, err := NewPlayer(audio, 48000, s.Law, sheet.Drive, controls)
	must(t, err)
	var since int
	turn := 160000
	out := play(p, 192000, func(at int) {
		switch at {
		case 4096:
			p.Follow(*circuit)
			p.follow.demand = none // of a test, which has time
		case turn:
			if p.follow == nil || p.follow.state != FollowPlaying {
				t.Errorf("%+v: not playing", p.follow.tell())
			}
			p.SetLaw(s.Law)
			if p.follow != nil {
				t.Error("still followed")
			}
		}
		for p.Work(0.05) && p.Coming() {
		}
		if since == 0 && p.follow != nil && p.follow.state == FollowPlaying {
			since = at
		}
	})
	if since == 0 {
		t.Fatalf("%+v: never played", p.follow.tell())
	}
	whole, err := RecordInTime(audio, 48000, s.Law, *circuit, sheet.Drive, controls, func(float64) bool { return true })
	must(t, err)
	from, law := since+72000, record(t, audio, s, sheet.Drive, controls)
	worst, differs := 0.0, 0.0
	for i := from; i < turn-1024; i++ {
		worst = max(worst, math.Abs(float64(out[0][i+p.Latency()]-whole[0][i])))
		differs = max(differs, math.Abs(float64(law[0][i]-whole[0][i])))
	}
	t.Logf("followed after %.2f s; %.1f dB from the whole, which is %.1f dB from the law", float64(since)/48000, 20*math.Log10(worst), 20*math.Log10(differs))
	if worst > 1e-3 || differs < 10*worst {
		t.Errorf("%.1f dB from the whole, which is %.1f dB from the law", 20*math.Log10(worst), 20*math.Log10(differs))
	}
	if got, most := steps(out), max(steps(whole), steps(law)); got > 1.05*most {
		t.Errorf("a step of %g, the programme's own are up to %g", got, most)
	}
	// Faded out by 20 ms, in whole blocks, behind the way's latency.
	at := turn + 960 + 512 + p.Latency()
	if !slices.Equal(out[0][at:at+20000], law[0][at-p.Latency():at-p.Latency()+20000]) {
		t.Error("not the law afterwards")
	}
}

// TestFollowGivesUp: one that fails or does not keep up leaves the law as it is.
func TestFollowGivesUp(t *testing.T) {
	audio := music(48000, 0.5)
	s, circuit, sheet := circuitOf(t, "pair-12w-speaker", "as-built", 0)
	p, err := NewPlayer(audio, 48000, s.Law, sheet.Drive, Controls{Monitor: Output})
	must(t, err)
	broken := *circuit
	broken.Stage.File = "nonsense"
	p.Follow(broken)
	if p.Work(1) || p.follow.state != FollowFailed || p.Tell().Followed.Why == "" {
		t.Errorf("%+v", p.follow.tell())
	}
	p.Follow(*circuit)
	out := play(p, 48000, func(int) { p.Work(1e-9) })
	if want := record(t, audio, s, sheet.Drive, Controls{Monitor: Output}); !p.Coming() || !slices.Equal(out[0][p.Latency():], want[0][:48000-p.Latency()]) {
		t.Errorf("%+v: not the law", p.follow.tell())
	}
	p.follow.spent = 9e9
	if p.Work(1); p.follow.state != FollowSlow {
		t.Errorf("%+v after 9 s of work", p.follow.tell())
	}
}
