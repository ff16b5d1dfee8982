package fit

import (
	"bytes"
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"quietcross/stage/quantity"
)

// result is a fit made up by hand: two levels, a third harmonic of a tenth and one
// in the noise.
func result() *Report {
	observation := func(volts, third float64) Observation {
		return Observation{Frequencies: []float64{397}, Amplitudes: []float64{volts}, Lines: []Line{
			{N1: 2, Volts: 1e-6, Sigma: 1e-5, Model: 0},
			{N1: 3, Volts: -third, Sigma: 1e-5, Model: -third * 1.01},
		}}
	}
	return &Report{
		Schema: SchemaVersion, Program: "quietcross", Version: "test",
		File: "<img src=x>.wav", Stage: "my-amp", Title: "a pair", FullScale: 25,
		Fit: &Result{
			Bias: 1.25,
			Parameters: []Parameter{
				{Key: "bias", Value: 1.25, Unit: quantity.Volt, Low: 1.24, High: 1.26, Identified: true},
				{Key: "quiescent", Value: 5e-3, Unit: quantity.Ampere, Low: 1e-3, High: 25e-3},
			},
			Observations: []Observation{observation(10, 1), observation(1, 0.2)},
			Misfit:       0.9, Statements: []string{"the recording does not fix quiescent"},
		},
	}
}

func TestTable(t *testing.T) {
	var b bytes.Buffer
	if err := result().WriteTable(&b); err != nil {
		t.Fatal(err)
	}
	// Numbers carry a no-break space before their unit.
	text := strings.ReplaceAll(b.String(), "\u00a0", " ")
	for _, want := range []string{
		"full scale is 25.00 V", "2 levels", "1.250 V", "5.000 mA", "1.000 mA to 25.00 mA", "yes", "no",
		"The recording does not fix quiescent.", "−20.0 / −19.9", "noise / none",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the table lacks %q:\n%s", want, text)
		}
	}
}

// Two tones have products in place of harmonics.
func TestTwoTones(t *testing.T) {
	r := result()
	r.Fit.Observations = []Observation{{
		Frequencies: []float64{60, 7000}, Amplitudes: []float64{8, 2},
		Lines: []Line{{N1: -1, N2: 1, Volts: 0.1, Sigma: 1e-6, Model: 0.1}, {N1: -2, N2: 1, Volts: 1, Sigma: 1e-6, Model: 1}, {N2: 2, Volts: 1}},
	}}
	head, rows := r.lines()
	if want := []string{"output", "f2-f1", "f2-2f1"}; !slices.Equal(head, want) {
		t.Fatalf("columns %q, want %q", head, want)
	}
	if rows[0][1] != "−40.0 / −40.0" || rows[0][2] != "−20.0 / −20.0" {
		t.Errorf("row %q", rows[0])
	}
	if got := len(r.figures()); got != 2 {
		t.Errorf("%d figures, want 2: even and odd orders", got)
	}
}

func TestJSON(t *testing.T) {
	var b bytes.Buffer
	if err := result().WriteJSON(&b); err != nil {
		t.Fatal(err)
	}
	var back Report
	if err := json.Unmarshal(b.Bytes(), &back); err != nil {
		t.Fatal(err)
	}
	if p, ok := back.Fit.Parameter("quiescent"); !ok || p.Value != 5e-3 || p.Unit != quantity.Ampere {
		t.Errorf("came back as %+v", p)
	}
}

func TestPage(t *testing.T) {
	var b bytes.Buffer
	if err := result().WritePage(&b); err != nil {
		t.Fatal(err)
	}
	page := b.String()
	if strings.Contains(page, "<img") || strings.Contains(page, "NaN") {
		t.Error("the page holds markup from a name, or NaN")
	}
	if got := strings.Count(page, `role="img"`); got != 1 {
		t.Errorf("%d figures, want 1: there are odd harmonics only", got)
	}
}
