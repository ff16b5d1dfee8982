package stage

import (
	"errors"
	"math"
	"reflect"
	"strings"
	"testing"

	"quietcross/stage/circuits"
	"quietcross/stage/device"
)

// TestSettledPointHoldsItself checks that the temperatures found are those that
// the settled stage's own powers give through the thermal chain, by adding the
// chain up here: self-consistency in the sense of Ohm's law for heat.
func TestSettledPointHoldsItself(t *testing.T) {
	for _, peakPart := range []float64{0, 0.5, 1} {
		s := mustStage(t, "pair-12w", nil)
		cold := mustSet(t, s, AsBuilt())
		peak := peakPart * cold.Drive()
		hot, err := s.Settle(AsBuilt(), peak)
		if err != nil {
			t.Fatal(err)
		}
		p, err := hot.Biased.Power(peak)
		if err != nil {
			t.Fatal(err)
		}
		th := s.Spec().Thermal
		sink := th.Ambient + th.SinkToAir*(p.Devices[0].Mean+p.Devices[1].Mean)
		relative(t, "sink", hot.Sink, sink, 1e-5)
		relative(t, "junction", hot.Temperatures.Upper, sink+(th.JunctionToCase+th.CaseToSink)*p.Devices[0].Mean, 1e-5)
		relative(t, "bias part", hot.Temperatures.Bias, th.Ambient+th.Coupling*(sink-th.Ambient), 1e-5)
		if hot.Hot <= hot.Cold {
			t.Errorf("quiescent %g A cold, %g A hot: a partly coupled bias part must let it rise", hot.Cold, hot.Hot)
		}
	}
}

// TestRunawayLimit takes a pair at a forced bias through the textbook limit theta
// VCE |dVBE/dT| IC/(VT + IC RE) = 1: well under it the stage settles, well over it is
// refused. Every device's loop has the whole of its own path and of the sink.
func TestRunawayLimit(t *testing.T) {
	const iq = 0.1
	limit := func(s *Stage) float64 {
		spec := s.Spec()
		b := mustSet(t, s, Held(iq))
		vt := 0.0256926
		d := b.Point().Devices[0]
		slope := (d.Control - 1.11 - 3*vt) / spec.Thermal.Ambient
		return (vt/iq + spec.Emitter.Ohms) / (spec.Supply.Positive * math.Abs(slope))
	}
	settle := func(part float64) error {
		s := mustStage(t, "pair-60w", func(s *Spec) {
			ideal(s)
			s.Emitter.Ohms = 0.1
			s.Thermal.JunctionToCase, s.Thermal.CaseToSink = 0.01, 0.001
			s.Thermal.MaximumJunction = 500
		})
		// Both devices heat one sink, so each watt of a device comes with a second.
		s.spec.Thermal.SinkToAir = part * limit(s) / 2
		_, err := s.Settle(Held(iq), 0)
		return err
	}
	if err := settle(0.2); err != nil {
		t.Errorf("at a fifth of the limit: %v", err)
	}
	if err := settle(1.05); !errors.Is(err, ErrRunaway) {
		t.Errorf("over the limit: %v", err)
	}
}

// TestTooHot checks that a stage which settles above its maximum junction
// temperature is refused for that.
func TestTooHot(t *testing.T) {
	s := mustStage(t, "pair-12w", func(s *Spec) {
		s.Thermal.MaximumJunction = 335
		s.Thermal.SinkToAir = 15
	})
	if _, err := s.Settle(AsBuilt(), 0); !errors.Is(err, ErrTooHot) {
		t.Errorf("error %v", err)
	}
}

// TestBuiltinStagesSettle checks that the demonstration stages survive full
// drive, continuously, and says how warm they become.
func TestBuiltinStagesSettle(t *testing.T) {
	for _, named := range Builtin() {
		s := mustStage(t, named.Name, nil)
		drive, err := s.Drive()
		if err != nil {
			t.Fatal(err)
		}
		for _, peak := range []float64{0, 2 / math.Pi * drive, drive} {
			hot, err := s.Settle(AsBuilt(), peak)
			if err != nil {
				t.Errorf("%s at %.2f V peak: %v", named.Name, peak, err)
				continue
			}
			t.Logf("%s at %.2f V: IQ %.1f to %.1f mA, sink %.0f C, junctions %.0f C, load %.2f W, loop gain %.2f",
				named.Name, peak, hot.Cold*1e3, hot.Hot*1e3, hot.Sink-273.15, hot.Temperatures.Upper-273.15, hot.Power.Load, hot.Feedback)
		}
	}
}

// TestOvercompensatedStagesSettle takes a field-effect stage whose bias part follows the
// sink so closely that its current falls as it warms. Switched on, it warms up and stays:
// temperatures and current must be those at which an integration of the thermal
// chain in time arrives, by the explicit rule of Euler written here.
func TestOvercompensatedStagesSettle(t *testing.T) {
	for _, sink := range []float64{10, 40} {
		s := mustStage(t, "fet-30w", func(s *Spec) {
			s.Thermal.Coupling, s.Thermal.SinkToAir = 1, sink
			s.Thermal.JunctionToCase, s.Thermal.CaseToSink = 0.3, 0.1
		})
		got, err := s.Settle(AsBuilt(), 0)
		if err != nil {
			t.Fatal(err)
		}
		th := s.Spec().Thermal
		const step, sinkStore, junctionStore = 0.04, 1, 0.4
		temperatures, at := circuits.Uniform(th.Ambient), th.Ambient
		on := s.built(AsBuilt(), made{parts: s.spec.Parts})
		for range 7000 {
			b, err := on.at(temperatures)
			if err != nil {
				t.Fatal(err)
			}
			flow := 0.0
			for i, junction := range []*float64{&temperatures.Upper, &temperatures.Lower} {
				down := (*junction - at) / (th.JunctionToCase + th.CaseToSink)
				*junction += step / junctionStore * (b.Point().Devices[i].Dissipation - down)
				flow += down
			}
			at += step / sinkStore * (flow - (at-th.Ambient)/th.SinkToAir)
			temperatures.Bias = at
		}
		if math.Abs(got.Temperatures.Upper-temperatures.Upper) > 0.01 || math.Abs(got.Sink-at) > 0.01 {
			t.Errorf("settles at %.3f K, sink %.3f; in time it arrives at %.3f and %.3f", got.Temperatures.Upper, got.Sink, temperatures.Upper, at)
		}
		if got.Verdict != Settles || got.Feedback > -1 {
			t.Errorf("%s with a thermal loop gain of %.2f", got.Verdict, got.Feedback)
		}
	}
}

// TestSettlesWhereTheSecantMeets takes a stage in hot air whose heat grows less and less
// with the sink, so that the secant comes down a hair beyond the rest. The sink must be
// where the settled powers keep it.
func TestSettlesWhereTheSecantMeets(t *testing.T) {
	s := mustStage(t, "single-class-b", nil)
	drive := mustSet(t, s, AsBuilt()).Drive()
	var soft Profile
	for i := range 48 {
		soft = append(soft, Share{Volts: drive / 10 * math.Sin(2*math.Pi*float64(i)/48), Part: 1. / 48})
	}
	c := s.Conditions(Programme(soft))
	c.Air = 313.15
	for _, quiescent := range []float64{24e-3, 25.1e-3, 26e-3} {
		hot, err := s.SettleUnder(Quiescent(quiescent), c)
		if err != nil {
			t.Errorf("%g A: %v", quiescent, err)
			continue
		}
		total := 0.0
		for _, o := range hot.Biased.Outputs() {
			total += hot.Power.Devices[o].Mean
		}
		relative(t, "sink over air", hot.Sink-c.Air, s.Spec().Thermal.SinkToAir*total, 1e-5)
	}
}

// TestVerdictsSayWhatIs checks what is told of stages that must not be run: a junction
// that is said to be too hot is, a runaway has a loop gain of 1 or more, and the text
// names bias, source, load, air and drive.
func TestVerdictsSayWhatIs(t *testing.T) {
	for _, row := range []struct {
		change  func(*Spec)
		setting Setting
		peak    float64
		want    Verdict
		says    []string
	}{
		{func(s *Spec) { s.Thermal.SinkToAir = 20 }, Held(0.0734), 0, Runaway, []string{"thermal runaway", "quiescent 73.4mA, held, set cold", "ideal source held", "load 8ohm", "air 25 C", "at rest", "followed until", "150 C is the maximum"}},
		{func(s *Spec) { s.Thermal.SinkToAir = 400 }, Held(0.3), 0, Runaway, []string{"thermal runaway", "load 8ohm"}},
		{func(s *Spec) { s.Thermal.SinkToAir, s.Thermal.Ambient = 15, 313.15 }, AsBuilt(), 10, TooHot, []string{"too hot", "as built (own parts as built)", "air 40 C", "sine of 10V peak", "settles at"}},
		{func(s *Spec) { s.Thermal.SinkToAir, s.Thermal.Coupling = 40, 1 }, AsBuilt(), 8, TooHot, []string{"too hot", "passes", "goes on"}},
	} {
		s := mustStage(t, "pair-12w", row.change)
		settled, err := s.Settle(row.setting, row.peak)
		if settled.Verdict != row.want {
			t.Errorf("%v: %s, want %s: %v", row.setting, settled.Verdict, row.want, err)
		}
		if !errors.Is(err, map[Verdict]error{Runaway: ErrRunaway, TooHot: ErrTooHot}[row.want]) {
			t.Errorf("%v: error %v", row.setting, err)
		}
		if settled.Hottest() <= settled.Maximum || (settled.Verdict == Runaway) != (settled.Feedback >= 1) {
			t.Errorf("%v: %s at %.0f K of %.0f with a loop gain of %.2f", row.setting, settled.Verdict, settled.Hottest(), settled.Maximum, settled.Feedback)
		}
		for _, text := range row.says {
			if err == nil || !strings.Contains(err.Error(), text) {
				t.Errorf("%v: %q is missing in %v", row.setting, text, err)
			}
		}
	}
}

// TestLoopGainClosedForm checks the thermal loop gain of a pair at a held bias, on a sink
// that stays cold, against the form that follows from the junction law. The half bias
// V = VBE(IC, T) + IC RE is held, so a rise dT brings 0 = (dVBE/dT) dT + (VT/IC + RE) dIC,
// the power rises by VCE dIC, and theta times that is the temperature that comes back:
//
//	theta VCE |dVBE/dT| / (VT/IC + RE), dVBE/dT = (VBE - EG - 3 VT)/T
//
// (30 V, 50 mA, 0.22 ohm, 26 mV and 2 mV/K thus need theta under 0.74/0.06 = 12.33 K/W.)
// The junctions' gain has their own path alone, and the whole gain the sink's as well,
// which both devices heat.
func TestLoopGainClosedForm(t *testing.T) {
	const own, sink = 1.2, 0.3
	s := mustStage(t, "pair-60w", func(s *Spec) {
		ideal(s)
		s.Emitter.Ohms = 0.22
		s.Thermal.JunctionToCase, s.Thermal.CaseToSink, s.Thermal.SinkToAir = own-0.001, 0.001, sink
	})
	for _, iq := range []float64{0.02, 0.1} {
		settled, err := s.Settle(Held(iq), 0)
		if err != nil {
			t.Fatal(err)
		}
		d := settled.Biased.Point().Devices[0]
		kelvin := settled.Temperatures.Upper
		vt := device.ThermalVoltage(kelvin)
		slope := math.Abs(d.Control-s.Spec().Upper.Gap-3*vt) / kelvin
		gain := d.Main * slope / (vt/d.Current + s.Spec().Emitter.Ohms)
		relative(t, "junctions", settled.JunctionFeedback, own*gain, 0.01)
		relative(t, "with the sink", settled.Feedback, (own+2*sink)*gain, 0.01)
	}
}

// TestBuiltOnce holds a stage that is built once and taken from temperature to temperature
// against one that is built at the last: nothing of what was solved before stays.
func TestBuiltOnce(t *testing.T) {
	hot := circuits.Temperatures{Upper: 371, Lower: 355, Driver: 340, Bias: 333}
	for _, named := range Builtin() {
		s := mustStage(t, named.Name, nil)
		m := made{parts: s.spec.Parts}
		once := s.built(AsBuilt(), m)
		before, err := once.at(circuits.Uniform(280))
		if err != nil {
			t.Fatal(err)
		}
		if _, _, err := before.Transfer(s.kind.Span(&s.spec.Parts)); err != nil {
			t.Fatal(err)
		}
		got, err := once.at(hot)
		if err != nil {
			t.Fatal(err)
		}
		want, err := s.At(hot).restAt(AsBuilt(), m)
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(got.point, want.point) || got.stage.Temperatures() != hot {
			t.Errorf("%s: at rest %+v, built there %+v", named.Name, got.point, want.point)
		}
		in := want.stage.kind.Span(&s.spec.Parts) / 7
		out, gain, err := got.Transfer(in)
		if err != nil {
			t.Fatal(err)
		}
		if o, g, err := want.Transfer(in); out != o || gain != g || err != nil {
			t.Errorf("%s: %g V and a gain of %g at %g V, built there %g V and %g (%v)", named.Name, out, gain, in, o, g, err)
		}
	}
}
