package circuits_test

import (
	"fmt"
	"slices"
	"testing"

	"quietcross/stage"
	"quietcross/stage/circuits"
	"quietcross/stage/drawing"
)

// testCase is one drawing to check.
type testCase struct {
	name   string
	kind   string
	parts  circuits.Parts
	forced bool
}

// everyCase lists every built-in stage, as built and forced, and variations of its
// parts that the drawing depends on.
func everyCase(t *testing.T) []testCase {
	t.Helper()
	var list []testCase
	for _, b := range stage.Builtin() {
		spec, err := stage.Lookup(b.Name)
		if err != nil {
			t.Fatal(err)
		}
		for _, v := range variations(spec.Parts) {
			for _, forced := range []bool{false, true} {
				list = append(list, testCase{fmt.Sprintf("%s,%s,forced=%v", b.Name, v.name, forced), b.Circuit, v.parts, forced})
			}
		}
	}
	return list
}

func variations(p circuits.Parts) []testCase {
	list := []testCase{{name: "as it is", parts: p}}
	vary := func(name string, change func(*circuits.Parts)) {
		q := p
		change(&q)
		list = append(list, testCase{name: name, parts: q})
	}
	vary("bare", func(q *circuits.Parts) { q.Source.Ohms, q.Emitter.Ohms = 0, 0 })
	vary("loudspeaker", func(q *circuits.Parts) { q.Load.Resonance = 50 })
	vary("voice coil", func(q *circuits.Parts) { q.Load.Resonance, q.Load.Henries = 0, 1e-3 })
	for n := range 13 {
		vary(fmt.Sprintf("%d diodes", n), func(q *circuits.Parts) { q.Bias.Diodes, q.Tap.Diodes = n, min(n, 6) })
	}
	vary("trimmer in series", func(q *circuits.Parts) { q.Bias.Series = 30 })
	vary("trimmer across", func(q *circuits.Parts) { q.Bias.Across = 300 })
	vary("next to no trimmer", func(q *circuits.Parts) { q.Bias.Series = 1e-6 })
	vary("both trimmers", func(q *circuits.Parts) { q.Bias.Across, q.Bias.Series = 300, 30 })
	vary("trimmers and one diode", func(q *circuits.Parts) { q.Bias.Across, q.Bias.Series, q.Bias.Diodes = 300, 30, 1 })
	vary("trimmers and no diode", func(q *circuits.Parts) { q.Bias.Across, q.Bias.Series, q.Bias.Diodes = 300, 30, 0 })
	vary("trimmer across and one diode", func(q *circuits.Parts) { q.Bias.Across, q.Bias.Diodes = 300, 1 })
	vary("loop", func(q *circuits.Parts) {
		q.Driver.Fitted = false
		q.Feedback = circuits.Feedback{Gain: 1e4, Bandwidth: 1e6, Closed: 20, Swing: 30}
	})
	vary("loop of one", func(q *circuits.Parts) {
		q.Driver.Fitted = false
		q.Feedback = circuits.Feedback{Gain: 1e4, Bandwidth: 1e6, Closed: 1, Swing: 30}
	})
	for _, v := range drivers {
		vary(v.name, func(q *circuits.Parts) {
			q.Feedback.Gain = 0
			q.Driver = v.driver
		})
	}
	vary("driver without source resistance", func(q *circuits.Parts) {
		q.Feedback.Gain, q.Source.Ohms, q.Emitter.Ohms = 0, 0, 0
		q.Driver = drivers[0].driver
	})
	vary("full tap", func(q *circuits.Parts) {
		q.Tap = circuits.TapBias{Upper: 100, Lower: 10, Diodes: 2, Bypass: 1e-6}
	})
	return list
}

// drivers are class A drivers with and without their optional parts.
var drivers = []struct {
	name   string
	driver circuits.Driver
}{
	{"driver", circuits.Driver{
		Fitted: true, DividerUpper: 68e3, DividerLower: 12e3, Emitter: 120, Degeneration: 10, Bypass: 470e-6,
		Input: 10e-6, Collector: 1200, Output: 100e-6, Damping: 4700,
	}},
	{"driver with one emitter resistor", circuits.Driver{
		Fitted: true, DividerUpper: 68e3, DividerLower: 12e3, Emitter: 120, Input: 10e-6, Collector: 1200, Output: 100e-6, Damping: 4700,
	}},
	{"driver bypassed whole", circuits.Driver{
		Fitted: true, DividerUpper: 68e3, DividerLower: 12e3, Emitter: 120, Bypass: 470e-6,
		Input: 10e-6, Collector: 1200, Output: 100e-6, Damping: 4700,
	}},
}

// TestDevicesAppearOnce solves every built-in stage, as built and biased by force:
// each device and each supply of its operating point is drawn exactly once.
func TestDevicesAppearOnce(t *testing.T) {
	for _, b := range stage.Builtin() {
		spec, err := stage.Lookup(b.Name)
		if err != nil {
			t.Fatal(err)
		}
		st, err := stage.New(spec)
		if err != nil {
			t.Fatal(err)
		}
		for _, setting := range []stage.Setting{stage.AsBuilt(), stage.Bias(0.5)} {
			biased, err := st.Set(setting)
			if err != nil {
				t.Fatal(err)
			}
			_, forced := biased.Forced()
			d, err := circuits.Draw(spec.Circuit, spec.Parts, forced)
			if err != nil {
				t.Fatal(err)
			}
			var want, got []string
			for _, device := range biased.Point().Devices {
				want = append(want, device.Name)
			}
			for _, supply := range biased.Point().Supplies {
				want = append(want, supply.Name)
			}
			for _, p := range d.Parts {
				if p.Device != "" && p.Kind != drawing.Source {
					got = append(got, p.Device)
				}
			}
			slices.Sort(want)
			slices.Sort(got)
			if !slices.Equal(got, want) {
				t.Errorf("%s %s: drawn %q, solved %q", b.Name, setting, got, want)
			}
		}
	}
}

func TestSymbolsDoNotOverlap(t *testing.T) {
	for _, c := range everyCase(t) {
		d, err := circuits.Draw(c.kind, c.parts, c.forced)
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range d.Parts {
			for _, q := range d.Parts[:i] {
				if p.Body().Meets(q.Body()) {
					t.Errorf("%s: %s%v at %v overlaps %s%v at %v", c.name, p.Name, p.Kind, p.At, q.Name, q.Kind, q.At)
				}
			}
			for _, w := range d.Wires {
				for k := 1; k < len(w); k++ {
					if p.Kind != drawing.Terminal && p.Body().Meets(stretch(w[k-1], w[k])) {
						t.Errorf("%s: wire %v runs through %s %v at %v", c.name, w, p.Name, p.Kind, p.At)
					}
				}
			}
		}
	}
}

// stretch is the box of a straight piece of wire, a hair wide.
func stretch(a, b drawing.Point) drawing.Box {
	const hair = 0.05
	return drawing.Box{
		Min: drawing.Place{X: float64(min(a.X, b.X)) - hair, Y: float64(min(a.Y, b.Y)) - hair},
		Max: drawing.Place{X: float64(max(a.X, b.X)) + hair, Y: float64(max(a.Y, b.Y)) + hair},
	}
}

// TestWires holds every wire to straight stretches along the grid, each end to a
// terminal, another wire's end or a dot, and every terminal to a wire.
func TestWires(t *testing.T) {
	for _, c := range everyCase(t) {
		d, err := circuits.Draw(c.kind, c.parts, c.forced)
		if err != nil {
			t.Fatal(err)
		}
		ends := map[drawing.Point]int{}
		for _, p := range d.Parts {
			if p.Kind == drawing.Terminal {
				continue
			}
			for _, pin := range p.Pins() {
				ends[pin.At]++
			}
		}
		for _, w := range d.Wires {
			ends[w[0]]++
			ends[w[len(w)-1]]++
			for k := 1; k < len(w); k++ {
				if dx, dy := w[k].X-w[k-1].X, w[k].Y-w[k-1].Y; (dx == 0) == (dy == 0) {
					t.Errorf("%s: wire %v has a stretch that is not along the grid", c.name, w)
				}
			}
		}
		for at, n := range ends {
			if n < 2 && !slices.Contains(d.Dots, at) {
				t.Errorf("%s: a loose end at %v", c.name, at)
			}
		}
		checkDots(t, c.name, d)
	}
}

// checkDots holds the dots to the places where three or more ways meet, counted
// here by the four directions in which a wire or a symbol's lead leaves.
func checkDots(t *testing.T, name string, d drawing.Drawing) {
	t.Helper()
	ways := map[drawing.Point]map[drawing.Point]bool{}
	ended := map[drawing.Point]bool{}
	leave := func(at, toward drawing.Point) {
		if ways[at] == nil {
			ways[at] = map[drawing.Point]bool{}
		}
		ways[at][toward] = true
	}
	for _, w := range d.Wires {
		ended[w[0]], ended[w[len(w)-1]] = true, true
		for k := 1; k < len(w); k++ {
			a, b := w[k-1], w[k]
			step := pt(sign(b.X-a.X), sign(b.Y-a.Y))
			for at := a; at != b; at = at.Plus(step) {
				leave(at, step)
				leave(at.Plus(step), pt(-step.X, -step.Y))
			}
		}
	}
	for _, p := range d.Parts {
		if p.Kind != drawing.Terminal {
			for _, pin := range p.Pins() {
				ended[pin.At] = true
				leave(pin.At, pt(9, p.At.X*100+p.At.Y)) // into the symbol
			}
		}
	}
	for at, ways := range ways {
		if want := len(ways) >= 3 && ended[at]; want != slices.Contains(d.Dots, at) {
			t.Errorf("%s: %d ways meet at %v, dot wanted: %v", name, len(ways), at, want)
		}
	}
}

func sign(n int) int { return min(max(n, -1), 1) }

func pt(x, y int) drawing.Point { return drawing.Point{X: x, Y: y} }
