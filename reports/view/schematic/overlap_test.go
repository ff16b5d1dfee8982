package schematic

import (
	"fmt"
	"math"
	"strconv"
	"testing"

	"quietcross/stage"
	"quietcross/stage/circuits"
	"quietcross/stage/drawing"
)

// pictured is a stage solved at a setting.
func pictured(t *testing.T, spec stage.Spec, setting stage.Setting) *Figure {
	t.Helper()
	st, err := stage.New(spec)
	if err != nil {
		t.Fatal(err)
	}
	biased, err := st.Set(setting)
	if err != nil {
		t.Fatal(err)
	}
	return &Figure{Name: "schematic", Spec: biased.Trimmed(), Setting: setting, Point: biased.Point()}
}

// everyFigure lists the built-in stages as built and forced, and some of their
// variations that stages of users will have.
func everyFigure(t *testing.T) []*Figure {
	t.Helper()
	var list []*Figure
	for _, b := range stage.Builtin() {
		spec, err := stage.Lookup(b.Name)
		if err != nil {
			t.Fatal(err)
		}
		for _, setting := range []stage.Setting{stage.AsBuilt(), stage.Bias(0.655)} {
			list = append(list, pictured(t, spec, setting))
		}
		if biased := pictured(t, spec, stage.AsBuilt()); biased.Point.Quiescent > 0 && spec.Name != "push-pull-dead-zone" {
			for _, ratio := range []float64{0.3, 3} {
				list = append(list, pictured(t, spec, stage.Quiescent(ratio*biased.Point.Quiescent)))
			}
		}
		bare := spec
		bare.Source.Ohms, bare.Emitter.Ohms = 0, 0
		list = append(list, pictured(t, bare, stage.Bias(0.6)))
		loop := spec
		loop.Feedback.Gain = 1e4
		loop.Driver.Fitted = false
		loop.Feedback.Closed = 10
		list = append(list, pictured(t, loop, stage.AsBuilt()))
		list = append(list, pictured(t, odd(spec), stage.AsBuilt()), pictured(t, odd(spec), stage.Bias(0.6543)))
		coil := spec
		coil.Load.Resonance, coil.Load.Henries = 0, 0.47e-3
		list = append(list, pictured(t, coil, stage.AsBuilt()))
		list = append(list, withDrivers(t, spec)...)
		if spec.Circuit == "complementary-follower" {
			for n := range 7 {
				few := spec
				few.Source.Ohms, few.Bias.Diodes = 33, n
				few.Bias.FeedUpper, few.Bias.FeedLower = 4700, 4700
				list = append(list, pictured(t, few, stage.AsBuilt()))
			}
		}
		if spec.Circuit == "transformer-push-pull" || spec.Circuit == "single-transistor" {
			full := spec
			full.Tap.Upper, full.Tap.Lower, full.Tap.Diodes, full.Tap.Bypass = 1200, 120, 2, 470e-6
			list = append(list, pictured(t, full, stage.AsBuilt()))
		}
	}
	return list
}

// withDrivers are a stage behind class A drivers with and without their optional
// parts, as built and forced.
func withDrivers(t *testing.T, spec stage.Spec) []*Figure {
	t.Helper()
	source, err := stage.Lookup("push-pull-driven")
	if err != nil {
		t.Fatal(err)
	}
	spec.Feedback.Gain = 0
	var list []*Figure
	for _, change := range []func(*circuits.Driver){
		func(*circuits.Driver) {},
		func(d *circuits.Driver) { d.Bypass = 0 },
		func(d *circuits.Driver) { d.Degeneration = 0 },
	} {
		spec.Driver = source.Driver
		// Between 30 and 40 V the bases of a divider for 12 V would carry too much.
		spec.Driver.DividerUpper *= (spec.Supply.Positive + spec.Supply.Negative) / 12
		spec.Driver.Collector, spec.Driver.Output = 332, 220e-6
		change(&spec.Driver)
		list = append(list, pictured(t, spec, stage.AsBuilt()), pictured(t, odd(spec), stage.Bias(0.6543)))
	}
	return list
}

// odd gives a stage values of three digits, as those of a close series are.
func odd(spec stage.Spec) stage.Spec {
	for _, v := range []*float64{
		&spec.Emitter.Ohms, &spec.Load.Ohms, &spec.Bias.FeedUpper, &spec.Bias.FeedLower, &spec.Source.Ohms,
		&spec.Multiplier.Top, &spec.Multiplier.Bottom, &spec.Drivers.Ohms, &spec.Coupling.Input, &spec.Tap.Upper, &spec.Tap.Lower,
	} {
		*v, _ = strconv.ParseFloat(strconv.FormatFloat(1.037**v, 'e', 2, 64), 64)
	}
	spec.Supply.Positive *= 1.07
	spec.Supply.Negative *= 1.03
	return spec
}

func pixels(b drawing.Box) box {
	return box{unit * b.Min.X, unit * b.Min.Y, unit * (b.Max.X - b.Min.X), unit * (b.Max.Y - b.Min.Y)}
}

// TestLabelsDoNotOverprint holds every text clear of every other text, symbol and
// wire, with the widths of a wide face, and inside the frame.
func TestLabelsDoNotOverprint(t *testing.T) {
	for i, f := range everyFigure(t) {
		d, err := circuits.Draw(f.Spec.Circuit, f.Spec.Parts, f.forced())
		if err != nil {
			t.Fatal(err)
		}
		p := f.plan(d, true)
		name := fmt.Sprintf("%d: %s %s, %d diodes", i, f.Spec.Name, f.Setting, f.Spec.Bias.Diodes)
		for k, a := range p.texts {
			for _, b := range p.texts[:k] {
				if a.box().meets(b.box()) {
					t.Errorf("%s: %q overprints %q", name, a.runs, b.runs)
				}
			}
			for _, part := range d.Parts {
				if a.box().meets(pixels(part.Body())) {
					t.Errorf("%s: %q overprints the symbol of %q at %v", name, a.runs, part.Name, part.At)
				}
			}
			for _, w := range d.Wires {
				for k := 1; k < len(w); k++ {
					if a.box().meets(stretch(w[k-1], w[k])) {
						t.Errorf("%s: %q overprints the wire %v", name, a.runs, w)
					}
				}
			}
			inner := p.frame
			b := a.box()
			if b.x < inner.x || b.y < inner.y || b.x+b.w > inner.x+inner.w || b.y+b.h > inner.y+inner.h {
				t.Errorf("%s: %q leaves the frame", name, a.runs)
			}
		}
	}
}

func stretch(a, b drawing.Point) box {
	x, y := unit*float64(min(a.X, b.X)), unit*float64(min(a.Y, b.Y))
	return box{x, y, unit * math.Abs(float64(a.X-b.X)), unit * math.Abs(float64(a.Y-b.Y))}
}
