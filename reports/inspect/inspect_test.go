package inspect

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"quietcross/stage"
)

func look(t *testing.T) *Inspection {
	t.Helper()
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	l, err := Look(spec, []stage.Setting{stage.AsBuilt(), stage.Bias(0), stage.Quiescent(20e-3)})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// TestJSONHoldsKirchhoff reads the inspection back and holds it to what no stage
// can escape: at rest the supplies deliver what devices and resistors take, and
// power goes no further than it came.
func TestJSONHoldsKirchhoff(t *testing.T) {
	var b bytes.Buffer
	if err := look(t).WriteJSON(&b); err != nil {
		t.Fatal(err)
	}
	var d document
	if err := json.Unmarshal(b.Bytes(), &d); err != nil {
		t.Fatal(err)
	}
	if d.Schema != SchemaVersion || len(d.Rungs) != 3 {
		t.Fatalf("schema %d, %d settings", d.Schema, len(d.Rungs))
	}
	if got := d.Rungs[2].Quiescent; math.Abs(got/20e-3-1) > 1e-6 {
		t.Errorf("quiescent current %g A, asked for 20 mA", got)
	}
	for _, r := range d.Rungs {
		if r.Dissipation > r.IdleDissipation*1.1+1e-9 {
			t.Errorf("%s: devices take %g W of %g W", r.Setting, r.Dissipation, r.IdleDissipation)
		}
		for _, p := range r.Powers {
			if p.Load > p.Supply*1.02 || p.Efficiency > math.Pi/4 {
				t.Errorf("%s at %g V: %g W of load from %g W, efficiency %g", r.Setting, p.Peak, p.Load, p.Supply, p.Efficiency)
			}
		}
	}
}

// TestTableAndPage shows every setting, and draws the circuit.
func TestTableAndPage(t *testing.T) {
	l := look(t)
	var table, page, picture bytes.Buffer
	for _, err := range []error{l.WriteTable(&table), l.WritePage(&page), l.WriteSVG(&picture)} {
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, want := range []string{"as built", "20.0", "crossover width", "upper VBE"} {
		if !strings.Contains(table.String(), want) {
			t.Errorf("the table lacks %q", want)
		}
	}
	if html := page.String(); strings.Count(html, "<svg") < 7 {
		t.Errorf("%d drawings on the page, want the circuit and six figures", strings.Count(html, "<svg"))
	}
	if !strings.HasPrefix(picture.String(), "<?xml") {
		t.Error("the picture is no file that stands alone")
	}
}

// TestInvertingStageSaysSo looks at a driven stage: its table, its JSON and its note
// tell that it inverts, and its gain is drawn upright.
func TestInvertingStageSaysSo(t *testing.T) {
	for name, want := range map[string]bool{"pair-12w-driven": true, "push-pull-driven": false} {
		spec, err := stage.Lookup(name)
		if err != nil {
			t.Fatal(err)
		}
		l, err := Look(spec, []stage.Setting{stage.AsBuilt()})
		if err != nil {
			t.Fatal(err)
		}
		var table, data bytes.Buffer
		if err := l.WriteTable(&table); err != nil {
			t.Fatal(err)
		}
		if err := l.WriteJSON(&data); err != nil {
			t.Fatal(err)
		}
		said := strings.Contains(table.String(), "polarity") && strings.Contains(table.String(), "The driver inverts") &&
			strings.Contains(data.String(), `"inverts": true`)
		if said != want || l.Inverts != want || l.Rungs[0].GainAtZero < 0 != want {
			t.Errorf("%s: said to invert: %v, gain %g", name, said, l.Rungs[0].GainAtZero)
		}
		if axis := l.picture().Y; !(axis.Hi > 1) {
			t.Errorf("%s: the gain is drawn up to %g", name, axis.Hi)
		}
	}
}

func TestLookRefuses(t *testing.T) {
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Look(spec, nil); err == nil {
		t.Error("no setting was not refused")
	}
	if _, err := Look(spec, []stage.Setting{stage.Quiescent(1e3)}); err == nil || !strings.Contains(err.Error(), "legal range") {
		t.Errorf("a kiloampere: error %v", err)
	}
}
