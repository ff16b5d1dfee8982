package schematic

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"strings"
	"testing"

	"quietcross/stage"
	"quietcross/stage/quantity"
)

func figureOf(t *testing.T, name string) *Figure {
	t.Helper()
	spec, err := stage.Lookup(name)
	if err != nil {
		t.Fatal(err)
	}
	return pictured(t, spec, stage.AsBuilt())
}

func svgOf(t *testing.T, f *Figure) string {
	t.Helper()
	svg, err := f.SVG()
	if err != nil {
		t.Fatal(err)
	}
	return svg
}

func TestOutputIsDeterministic(t *testing.T) {
	first, second := svgOf(t, figureOf(t, "darlington-30w")), svgOf(t, figureOf(t, "darlington-30w"))
	if first != second {
		t.Error("two drawings of one stage differ")
	}
}

// TestConductingDevicesAreMarked biases a pair under and over its turn-on: only the
// latter's devices are marked.
func TestConductingDevicesAreMarked(t *testing.T) {
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		setting stage.Setting
		marked  int
	}{
		{stage.Bias(0), 0},
		{stage.Held(conducting / 2), 0},
		{stage.Held(2 * conducting), 2},
		{stage.Quiescent(2 * conducting), 4},
		{stage.AsBuilt(), 4}, // two bias diodes more
	} {
		svg := svgOf(t, pictured(t, spec, c.setting))
		if got := strings.Count(svg, `class="symbol conducts" transform`); got != c.marked {
			t.Errorf("%s: %d devices marked as conducting, want %d", c.setting, got, c.marked)
		}
	}
}

// TestValuesAreThoseOfThePoint changes solved values one by one and looks for them
// in the picture.
func TestValuesAreThoseOfThePoint(t *testing.T) {
	f := figureOf(t, "pair-12w")
	f.Point.Devices[0].Current = 0.123
	f.Point.Devices[1].Dissipation = 0.0456
	f.Point.Supplies[1].Current = -0.0321
	for i := range f.Point.Nodes {
		if f.Point.Nodes[i].Name == "output" {
			f.Point.Nodes[i].Volts = -0.00789
		}
	}
	svg := svgOf(t, f)
	for _, want := range []string{"123\u00a0mA", "45.6\u00a0mW", "−32.1\u00a0mA", "−7.89\u00a0mV", "0.33\u00a0Ω", "200\u00a0Ω", "+20.6\u00a0V"} {
		if !strings.Contains(svg, want) {
			t.Errorf("the picture lacks %q", want)
		}
	}
}

// TestIdealBiasIsDrawn forces a bias and looks for its sources: halves about the tap
// of a pair, all of it where one end is earth, with half of the supply where an
// input capacitor held that.
func TestIdealBiasIsDrawn(t *testing.T) {
	for name, want := range map[string][]string{
		"pair-12w":         {"310\u00a0mV", "310\u00a0mV"},
		"push-pull-diode":  {"620\u00a0mV"},
		"single-class-a":   {"620\u00a0mV"},
		"single-capacitor": {"620\u00a0mV"},
		"single-supply-5w": {"13.5\u00a0V", "310\u00a0mV", "310\u00a0mV"},
	} {
		spec, err := stage.Lookup(name)
		if err != nil {
			t.Fatal(err)
		}
		svg := svgOf(t, pictured(t, spec, stage.Bias(0.62)))
		for i, volts := range want {
			if line := fmt.Sprintf(`>V%d</tspan><tspan>`+"\u00a0%s<", i+1, volts); !strings.Contains(svg, line) {
				t.Errorf("%s: no source V%d of %s", name, i+1, volts)
			}
		}
	}
}

const hostile = `"><img src=x onerror=alert(1)><script>alert(2)</script>&'` + "\x00\x1b\xff"

// TestTextIsInert puts markup into every text that a caller may give: the document
// stays well-formed and gains no element and no attribute.
func TestTextIsInert(t *testing.T) {
	names := func(text string) map[string]int {
		f := figureOf(t, "pair-12w")
		f.Spec.Name, f.Spec.Title = text, text
		document, err := f.Document()
		if err != nil {
			t.Fatal(err)
		}
		count := map[string]int{}
		decoder := xml.NewDecoder(strings.NewReader(document))
		for {
			token, err := decoder.Token()
			if errors.Is(err, io.EOF) {
				return count
			}
			if err != nil {
				t.Fatal(err)
			}
			if e, ok := token.(xml.StartElement); ok {
				count[e.Name.Local]++
				count["attributes"] += len(e.Attr)
			}
		}
	}
	plain, dangerous := names("harmless"), names(hostile)
	if len(plain) != len(dangerous) {
		t.Errorf("elements %v for harmless text, %v for hostile", plain, dangerous)
	}
	for name, n := range plain {
		if dangerous[name] != n {
			t.Errorf("%d %s for harmless text, %d for hostile", n, name, dangerous[name])
		}
	}
}

func TestUnknownCircuit(t *testing.T) {
	f := figureOf(t, "pair-12w")
	f.Spec.Circuit = "valves"
	if _, err := f.SVG(); err == nil {
		t.Error("no error")
	}
	if _, err := f.Document(); err == nil {
		t.Error("no error")
	}
}

func TestBadNamePanics(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("no panic")
		}
	}()
	f := figureOf(t, "pair-12w")
	f.Name = `a"b`
	_, _ = f.SVG()
}

// TestPartValues holds how values are written on drawings (common practice).
func TestPartValues(t *testing.T) {
	for _, c := range []struct {
		value float64
		unit  quantity.Unit
		want  string
	}{
		{0.33, "ohm", "0.33 Ω"},
		{0.002, "ohm", "2 mΩ"},
		{20.8, "ohm", "20.8 Ω"},
		{4700, "ohm", "4.7 kΩ"},
		{470e-6, "F", "470 µF"},
		{2200e-6, "F", "2200 µF"},
		{0.3e-3, "H", "300 µH"},
		{3, "", "3"},
		{20000, "", "20000"},
		{22000e-6, "F", "22000 µF"},
		{1234.56, "ohm", "1.235 kΩ"},
	} {
		if got := strings.ReplaceAll(partValue(c.value, c.unit), "\u00a0", " "); got != c.want {
			t.Errorf("%g %s is written %q, want %q", c.value, c.unit, got, c.want)
		}
	}
}
