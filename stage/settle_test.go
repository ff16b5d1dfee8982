package stage

import (
	"errors"
	"math"
	"testing"
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
