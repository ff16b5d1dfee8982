package lesson

import (
	"math"
	"strings"
	"testing"

	"quietcross/stage"
	"quietcross/stage/circuits"
	"quietcross/stage/drawing"
)

// TestBankFormulas holds what answers are computed by to worked examples.
func TestBankFormulas(t *testing.T) {
	for _, c := range []struct {
		what      string
		got, want float64
		from      string
	}{
		{what: "class B, 22 V on 24 V", got: classBEfficiency(22, 24), want: 0.72, from: "Boylestad and Nashelsky, Electronic Devices and Circuit Theory, power amplifiers"},
		{what: "class B, full swing", got: classBEfficiency(30, 30), want: 0.7854, from: "the same"},
		{what: "heat of both devices, 30 V, 16 ohm", got: pairHeat(30, 16), want: 2 * 5.7, from: "the same"},
		{what: "heat of both devices, 23 V, 8 ohm", got: pairHeat(23, 8), want: 2 * 6.70, from: "Sedra and Smith, Microelectronic Circuits, class B example (inputs from memory)"},
		{what: "stability, 30 V, 50 mA, 0.22 ohm, 26 mV", got: stableResistance(0.026, 30, 0.05, 0.22), want: 12.3333, from: "closed form (from memory)"},
		{what: "12 of 16 by guessing", got: byGuessing(16, 12), want: 0.0384, from: "Leventhal, Journal of the AES 34, 1986"},
		{what: "12 of 15 by guessing", got: byGuessing(15, 12), want: 0.0176, from: "the same"},
	} {
		if math.Abs(c.got/c.want-1) > 3e-3 {
			t.Errorf("%s: %g, want %g (%s)", c.what, c.got, c.want, c.from)
		}
	}
}

// TestSeedDrawsNumbers: a seed gives the same questions again, another gives other numbers.
func TestSeedDrawsNumbers(t *testing.T) {
	thread := built(t, "pair-12w").thread
	first, err := questions(thread, 1)
	if err != nil {
		t.Fatal(err)
	}
	again, err := questions(thread, 1)
	if err != nil {
		t.Fatal(err)
	}
	changed := map[int]bool{}
	for seed := uint64(2); seed < 8; seed++ {
		other, err := questions(thread, seed)
		if err != nil {
			t.Fatal(err)
		}
		for i := range first {
			if again[i] != first[i] {
				t.Errorf("%q became %q", first[i].Text, again[i].Text)
			}
			if other[i].Text != first[i].Text {
				changed[i] = true
				if other[i].Value == first[i].Value && !strings.Contains(first[i].Text, "blind") {
					continue // two draws may have one answer
				}
			}
			if !(other[i].Value > 0) || other[i].Answer == "" {
				t.Errorf("%q: %g, %q", other[i].Text, other[i].Value, other[i].Answer)
			}
		}
	}
	if len(changed) != len(first) {
		t.Errorf("six seeds changed %d of %d questions", len(changed), len(first))
	}
}

// TestWays: the current of each half-wave goes through its device, from terminal to
// terminal, begins and ends at a supply or at earth and, where no transformer stands
// between, goes through the load: out of it in one half-wave, into it in the other.
func TestWays(t *testing.T) {
	stand, err := newStand(t.Context(), DefaultOptions(stage.Spec{}, "").Heard, 1)
	if err != nil {
		t.Fatal(err)
	}
	for _, named := range stage.Builtin() {
		subject, err := stand.builtin(named.Name)
		if err != nil {
			t.Fatal(err)
		}
		x, err := subject.at(stage.AsBuilt())
		if err != nil {
			t.Fatal(err)
		}
		b := x.evaluation.Biased()
		d, err := circuits.Draw(x.spec.Circuit, x.spec.Parts, false)
		if err != nil {
			t.Fatal(err)
		}
		for i, output := range b.Outputs() {
			way, err := x.way(b.Point().Devices[output].Name, i == 0)
			if err != nil {
				t.Error(err)
				continue
			}
			checkWay(t, named.Name, d, way, i == 0, b.Point().Devices[output].Name)
		}
	}
}

func checkWay(t *testing.T, name string, d drawing.Drawing, way []drawing.Point, upper bool, device string) {
	t.Helper()
	index := func(p drawing.Point) int {
		for i, q := range way {
			if p == q {
				return i
			}
		}
		return -1
	}
	wound, ends := false, 0
	for _, p := range d.Parts {
		switch {
		case p.Kind == drawing.Transformer:
			wound = true
		case p.Kind == drawing.Rail || p.Kind == drawing.Ground:
			if p.At == way[0] || p.At == way[len(way)-1] {
				ends++
			}
		case isTransistor(p.Kind) && p.Device == device:
			in, out := terminals(p)
			if index(in) < 0 || index(out) != index(in)+1 {
				t.Errorf("%s: the way of %s does not go through it", name, device)
			}
		}
	}
	if ends < 2 {
		t.Errorf("%s: the way of %s begins or ends nowhere", name, device)
	}
	if wound {
		return
	}
	for _, p := range d.Parts {
		if strings.HasPrefix(p.Key, "load.") {
			a, b := index(p.Pin("a")), index(p.Pin("b"))
			if a < 0 || b < 0 || (a < b) != upper {
				t.Errorf("%s: the way of %s meets the load at %d and %d", name, device, a, b)
			}
		}
	}
}
