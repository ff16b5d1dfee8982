package inspect

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"quietcross/stage"
	"quietcross/stage/circuits"
)

// TestGainIsScaledToBiasedSettings checks that an unbiased setting does not set the scale
// of the gain, that it is said to be cut, and that alone it is drawn whole.
func TestGainIsScaledToBiasedSettings(t *testing.T) {
	l := look(t)
	f := l.picture()
	if !(f.Y.Lo > 0.8 && f.Y.Hi < 1) {
		t.Errorf("the gain is drawn from %g to %g", f.Y.Lo, f.Y.Hi)
	}
	if !strings.HasSuffix(f.Traces[1].Label, ", cut") || strings.HasSuffix(f.Traces[0].Label, ", cut") {
		t.Errorf("labels %q and %q", f.Traces[0].Label, f.Traces[1].Label)
	}
	if note := l.cutNote(); !strings.Contains(note, "is cut by the scale") || !strings.Contains(note, "under 0.000001") {
		t.Errorf("said of what is cut: %q", note)
	}
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	alone, err := Look(spec, []stage.Setting{stage.Bias(0)})
	if err != nil {
		t.Fatal(err)
	}
	if f := alone.picture(); f.Y.Lo != 0 || !(f.Y.Hi > 0.95) || alone.cutNote() != "" {
		t.Errorf("alone it is drawn from %g to %g, %q", f.Y.Lo, f.Y.Hi, alone.cutNote())
	}
}

// TestBrokenLimitsAreAllNamed looks at a stage that breaks its safe area, with a resistor
// and more so at 45 degrees, and its maximum temperature: all three are told, in the
// table, on the page and in the JSON, and a stage within its limits has none of it.
func TestBrokenLimitsAreAllNamed(t *testing.T) {
	spec, err := stage.Lookup("pair-12w-multiplier")
	if err != nil {
		t.Fatal(err)
	}
	spec.Thermal.SinkToAir = 20
	spec.SafeArea = circuits.SafeArea{Fitted: true, Current: 5, Power: 12, Volts: 60}
	spec.PowerSupply = circuits.PowerSupply{Fitted: true, Ohms: 0.5, Farads: 4.7e-3, Mains: 50, Conduction: 0.25}
	hot, err := Look(spec, []stage.Setting{stage.Quiescent(0.06)})
	if err != nil {
		t.Fatal(err)
	}
	r := &hot.Rungs[0]
	if len(r.Refusals()) == 0 || len(r.Limits.Broken) < 2 || !(r.Limits.Angle.Worst.Use > r.Limits.Line.Worst.Use) {
		t.Fatalf("told: %q", r.Warnings())
	}
	var table, page, data bytes.Buffer
	for _, err := range []error{hot.WriteTable(&table), hot.WritePage(&page), hot.WriteJSON(&data)} {
		if err != nil {
			t.Fatal(err)
		}
	}
	for _, says := range []string{"into the load's resistance, case at", "into a load of 45 degrees, case at", "too hot", "safe area used, load of 45°", "upper rail at drive", "hum at rest"} {
		if !strings.Contains(table.String(), says) {
			t.Errorf("the table does not say %q", says)
		}
	}
	for _, says := range []string{"Safe operating area", "Heat in time", "each rail behind 500mΩ", "worst upper at", "3.15 kHz square"} {
		if !strings.Contains(page.String(), says) && !strings.Contains(page.String(), strings.Replace(says, "upper", "lower", 1)) {
			t.Errorf("the page does not say %q", says)
		}
	}
	var d document
	if err := json.Unmarshal(data.Bytes(), &d); err != nil {
		t.Fatal(err)
	}
	j := d.Rungs[0].Limits
	if len(j.Broken) != len(r.Limits.Broken) || len(j.Drift) < 10 || len(j.Rails) != 2 || !(j.Rails[0].Mean < j.Rails[0].Unloaded) || j.Transient == nil {
		t.Errorf("JSON: %+v", j)
	}
	within, err := Look(mild(t), []stage.Setting{stage.AsBuilt()})
	if err != nil {
		t.Fatal(err)
	}
	if told := within.Rungs[0].Warnings(); len(told) > 0 {
		t.Errorf("a stage within its limits: %q", told)
	}
}

func mild(t *testing.T) stage.Spec {
	t.Helper()
	spec, err := stage.Lookup("pair-12w-multiplier")
	if err != nil {
		t.Fatal(err)
	}
	spec.SafeArea = circuits.SafeArea{Fitted: true, Current: 10, Power: 90, Volts: 80}
	return spec
}

// TestDriftShownIsThatOfTheStage checks the cells of the course against the settled
// figures of the same setting, and their order: cold, over the settled current in the
// passage, and less in the quiet than in the passage.
func TestDriftShownIsThatOfTheStage(t *testing.T) {
	l, err := Look(mild(t), []stage.Setting{stage.AsBuilt()})
	if err != nil {
		t.Fatal(err)
	}
	r := &l.Rungs[0]
	cold, peak, settled, loud, quiet := r.Limits.currents()
	if math.Abs(cold/r.Point.Quiescent-1) > 1e-6 || math.Abs(settled/r.Rest.Quiescent-1) > 0.01 {
		t.Errorf("%g A cold of %g, %g A settled of %g", cold, r.Point.Quiescent, settled, r.Rest.Quiescent)
	}
	if !(peak >= settled && loud > settled && quiet < loud) {
		t.Errorf("%g A at most, %g settled, %g in the passage, %g in the quiet", peak, settled, loud, quiet)
	}
}
