package render

import (
	"math"
	"testing"

	"quietcross/dsp/level"
	"quietcross/stage"
)

// TestPowerOfARenderedTone renders a steady tone through an unbiased pair and
// holds its powers to the textbook's class B: from each of two rails V·Ip/π, into
// the load Vp²/(2 RL), the difference in the devices and emitter resistors (Sedra
// and Smith, Microelectronic Circuits, class-B output stage). The dead zone takes
// a little of the peak, so that the output's own peak is used, and 1.5 % is left
// for the part of the half cycle that it takes.
func TestPowerOfARenderedTone(t *testing.T) {
	spec := idealSpec()
	spec.Emitter.Ohms = 0.05
	spec.Thermal.JunctionToCase, spec.Thermal.CaseToSink, spec.Thermal.SinkToAir = 0.2, 0.05, 0.1
	path := writeTone(t, 1000, 48000, 48000)
	_, m := run(t, []Source{File{Path: path}}, Options{
		Spec: spec, Settings: []stage.Setting{stage.Bias(0), stage.Bias(1.2)}, Levels: []level.DB{0}, Drive: new(float64(40)), Match: MatchOff,
	})
	r := m.Items[0].Renderings[1]
	peak := r.Peak.Amplitude() * 40
	supply := 2 * 60 * peak / idealLoad / math.Pi
	load := peak * peak / (2 * idealLoad)
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"supply", r.Power.Supply, supply},
		{"load", r.Power.Load, load},
		{"efficiency", r.Power.Efficiency, math.Pi / 4 * peak / 60},
	} {
		if math.Abs(c.got/c.want-1) > 0.015 {
			t.Errorf("%s: %g, class B has %g", c.what, c.got, c.want)
		}
	}
	if p := r.Power; p.Dissipation <= 0 || p.Dissipation >= p.Supply-p.Load {
		t.Errorf("devices take %g W of the %g W that do not reach the load; the emitter resistors take the rest", p.Dissipation, p.Supply-p.Load)
	}
	// The chain: 0.2 + 0.05 K/W each and 0.1 K/W shared, above 25 °C.
	settled := r.Power.Settled
	each := settled.Heat / 2
	if want := 298.15 + 0.25*each + 0.1*2*each; math.Abs(settled.Junction-want) > 0.02*(want-298.15) {
		t.Errorf("junction at %g K, the thermal chain gives %g K", settled.Junction, want)
	}
	if math.Abs(settled.Heat/r.Power.Dissipation-1) > 0.02 {
		t.Errorf("%g W of heat settled, %g W in the rendering", settled.Heat, r.Power.Dissipation)
	}
}

// TestBiasDriftsWithTheProgramme renders a loud tone through a pair held by an
// ideal bias that does not follow its temperature: warmed by the tone, the
// junctions end hotter than at rest.
func TestBiasDriftsWithTheProgramme(t *testing.T) {
	spec := demoSpec(t)
	o := Options{
		Spec: spec, Settings: []stage.Setting{stage.AsBuilt()}, Levels: []level.DB{-3}, Drift: true, Oversample: 4,
	}
	_, m := run(t, []Source{File{Path: writeTone(t, 1000, 48000, 24000)}}, o)
	if m.Solver != string(SolverDynamic) || !m.Drift {
		t.Fatalf("solver %q, drift %v", m.Solver, m.Drift)
	}
	st, err := stage.New(spec)
	if err != nil {
		t.Fatal(err)
	}
	rest, err := st.Settle(stage.AsBuilt(), 0)
	if err != nil {
		t.Fatal(err)
	}
	power := m.Items[0].Renderings[0].Power
	if power.Reached <= rest.Temperatures.Upper || power.Reached >= power.Settled.Junction {
		t.Errorf("junction at %g K after half a second, want between %g K at rest and %g K for ever", power.Reached, rest.Temperatures.Upper, power.Settled.Junction)
	}
	o.Solver = SolverStatic
	if _, err := Run(t.Context(), t.TempDir(), []Source{material(t, "tone")}, o); err == nil {
		t.Error("a static law that drifts was not refused")
	}
}
