package stage

import (
	"math"
	"testing"

	"quietcross/stage/circuits"
)

// lagging is a pair whose bias part follows the sink with a time constant of
// 15 J/K x 5 K/W x 0.9 = 67.5 s.
func lagging(s *Spec) {
	s.Thermal.Coupling, s.BiasPart = 0.9, circuits.BiasPart{Fitted: true, Store: 15, ToSink: 5}
	s.Thermal.SinkStore = 40
}

// euler integrates the thermal chain of a stage in small equal steps by the explicit
// rule: powers from the stage's solved inputs at 48 phases of the sine, the temperatures
// by the balance of each store. It returns the quiescent current at the end of each
// stretch, and the maximum and the minimum on the way.
func euler(t *testing.T, s *Stage, stretches []Stretch, step float64) (ends []float64, most, least float64) {
	t.Helper()
	th := s.Spec().Thermal
	at := s.cold().warm
	sink, least := th.Ambient, math.Inf(1)
	bias := 0.0
	if part := s.Spec().BiasPart; part.Fitted {
		bias = part.Store * part.ToSink * th.Coupling
	}
	path := th.JunctionToCase + th.CaseToSink
	for _, stretch := range stretches {
		current := 0.0
		for range int(math.Round(stretch.Seconds / step)) {
			b, err := s.At(at).restAt(AsBuilt(), made{parts: s.spec.Parts})
			if err != nil {
				t.Fatal(err)
			}
			current = b.Point().Quiescent
			most, least = max(most, current), min(least, current)
			var powers [2]float64
			for k := range 48 {
				ops, err := b.Devices(stretch.Signal.Peak() * math.Sin(2*math.Pi*(float64(k)+0.5)/48))
				if err != nil {
					t.Fatal(err)
				}
				powers[0] += ops[0].Dissipation / 48
				powers[1] += ops[1].Dissipation / 48
			}
			flow := -(sink - th.Ambient) / th.SinkToAir
			upper, lower := (at.Upper-sink)/path, (at.Lower-sink)/path
			at.Upper += step / th.JunctionStore * (powers[0] - upper)
			at.Lower += step / th.JunctionStore * (powers[1] - lower)
			if bias > 0 {
				at.Bias += step / bias * (th.Ambient + th.Coupling*(sink-th.Ambient) - at.Bias)
			}
			sink += step / th.SinkStore * (flow + upper + lower)
			if bias == 0 {
				at.Bias = th.Ambient + th.Coupling*(sink-th.Ambient)
			}
		}
		ends = append(ends, current)
	}
	return ends, most, least
}

// TestDriftIsTheChainIntegrated holds the drift after switch-on, through a loud passage
// and in the quiet that follows, against an independent integration of the chain.
func TestDriftIsTheChainIntegrated(t *testing.T) {
	for _, row := range []struct {
		name   string
		change func(*Spec)
	}{{"pair-12w-multiplier", lagging}, {"pair-12w", nil}} {
		s := mustStage(t, row.name, row.change)
		stretches := []Stretch{{90, Sine(0)}, {20, Sine(9)}, {40, Sine(0)}}
		want, most, least := euler(t, s, stretches, 0.02)
		b := mustSet(t, s, AsBuilt())
		d, err := b.Drift(Course{Air: s.Spec().Thermal.Ambient, Maximum: 423, Stretches: stretches})
		if err != nil {
			t.Fatal(err)
		}
		for i, end := range d.Ends {
			relative(t, row.name+": end of a stretch", d.Moments[end].Quiescent, want[i], 0.005)
		}
		relative(t, row.name+": maximum", d.Maximum(0, 150).Quiescent, most, 0.005)
		relative(t, row.name+": minimum", d.Minimum(0, 150).Quiescent, least, 0.005)
		t.Logf("%s: %d steps, ends %v, euler %v, from %.4g to %.4g", row.name, len(d.Moments), endCurrents(d), want, least, most)
	}
}

func endCurrents(d Drift) (list []float64) {
	for _, i := range d.Ends {
		list = append(list, d.Moments[i].Quiescent)
	}
	return list
}

// TestLagOvershoots checks what every builder knows of a bias part that lags: after
// switch-on the current goes over its end and comes back, after a loud passage it falls
// under what it was before, and both more than without the lag, while the ends are the
// same (common practice).
func TestLagOvershoots(t *testing.T) {
	course := func(lag bool) (over, under, rest float64) {
		s := mustStage(t, "pair-12w-multiplier", func(s *Spec) {
			lagging(s)
			s.Thermal.Coupling, s.Thermal.SinkStore = 0.9, 20
			if !lag {
				s.BiasPart.Fitted = false
			}
		})
		settled, err := s.Settle(AsBuilt(), 0)
		if err != nil {
			t.Fatal(err)
		}
		b := mustSet(t, s, AsBuilt())
		c := Course{Air: s.Spec().Thermal.Ambient, Maximum: 423, Stretches: []Stretch{{1500, Sine(0)}, {60, Sine(9)}, {1500, Sine(0)}}}
		d, err := b.Drift(c)
		if err != nil {
			t.Fatal(err)
		}
		relative(t, "the end is the settled current", d.Moments[len(d.Moments)-1].Quiescent, settled.Hot, 1e-3)
		relative(t, "the first rest too", d.Moments[d.Ends[0]].Quiescent, settled.Hot, 1e-3)
		return d.Maximum(0, 1500).Quiescent / settled.Hot, d.Minimum(1560, 3060).Quiescent / settled.Hot, settled.Hot
	}
	over, under, _ := course(true)
	plainOver, plainUnder, _ := course(false)
	t.Logf("overshoot %.4f with a lag, %.4f without; after the passage %.4f and %.4f", over, plainOver, under, plainUnder)
	if !(over > 1.02 && over > plainOver+0.01) {
		t.Errorf("overshoot after switch-on %.4f with a lag, %.4f without", over, plainOver)
	}
	if !(under < 0.99 && under < plainUnder+1e-9) {
		t.Errorf("after a loud passage %.4f of the rest with a lag, %.4f without", under, plainUnder)
	}
}

// TestFollowedHeatLags checks that a stage rendered in time goes the same way as Drift
// predicts, with its lag.
func TestFollowedHeatLags(t *testing.T) {
	s := mustStage(t, "pair-12w-multiplier", func(s *Spec) {
		lagging(s)
		s.Thermal.JunctionStore, s.Thermal.SinkStore, s.BiasPart.Store = 0.02, 0.3, 0.05
	})
	b := mustSet(t, s, AsBuilt())
	const rate, hertz, peak, seconds = 192e3, 1000, 9, 0.6
	d, err := b.Dynamic(rate)
	if err != nil {
		t.Fatal(err)
	}
	w := d.FollowHeat(s.cold().warm, s.Spec().Thermal.Ambient)
	buffer := make([]float64, rate*seconds)
	for i := range buffer {
		buffer[i] = peak * math.Sin(2*math.Pi*hertz*float64(i)/rate)
	}
	if err := d.Process(buffer, buffer); err != nil {
		t.Fatal(err)
	}
	c, err := b.Drift(Course{Air: s.Spec().Thermal.Ambient, Maximum: 423, Stretches: []Stretch{{seconds, Sine(peak)}}})
	if err != nil {
		t.Fatal(err)
	}
	last := c.Moments[len(c.Moments)-1]
	air := s.Spec().Thermal.Ambient
	relative(t, "junction's rise", w.Temperatures.Upper-air, last.Upper-air, 0.02)
	relative(t, "sink's rise", w.Sink-air, last.Sink-air, 0.02)
	relative(t, "bias part's rise", w.Temperatures.Bias-air, last.Bias-air, 0.02)
	if follows := 0.9 * (w.Sink - air); w.Temperatures.Bias-air > 0.95*follows {
		t.Errorf("bias part %.2f K above the air, %.2f K without a lag", w.Temperatures.Bias-air, follows)
	}
}
