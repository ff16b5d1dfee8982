package sweep

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"strings"
	"testing"

	"quietcross/stage"
)

// result sweeps a small stage at three biases, one of them impossible.
func result(t *testing.T, title string) *Result {
	t.Helper()
	spec, err := stage.Lookup("pair-1w")
	if err != nil {
		t.Fatal(err)
	}
	o := with(spec, []stage.Setting{stage.Bias(0), stage.Quiescent(10e-3), stage.Quiescent(1e6)}, 0, -20, -40)
	o.Frequencies = []float64{100, 6000}
	grid, err := Run(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	return &Result{Schema: SchemaVersion, Program: "quietcross", Version: "test", Title: title, Memory: true, Grid: grid}
}

func TestTable(t *testing.T) {
	var b bytes.Buffer
	if err := result(t, "a pair").WriteTable(&b); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"a pair", "no curve at", "THD+N without noise at 6.00", "−40.0", "10.0", "minimum incremental gain"} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("the table lacks %q:\n%s", want, b.String())
		}
	}
	if strings.Contains(b.String(), "NaN") {
		t.Error("the table holds NaN")
	}
}

func TestCSV(t *testing.T) {
	r := result(t, "")
	var b bytes.Buffer
	if err := r.WriteCSV(&b); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if want := 1 + 2*3; len(rows) != want {
		t.Fatalf("%d rows, want %d: a header, two biases at three levels", len(rows), want)
	}
	if want := len(csvColumns) + 2*(len(toneColumns)+harmonicColumns); len(rows[0]) != want || rows[0][len(csvColumns)+3] != "thd_100hz" || rows[0][want-1] != "h20_6000hz" {
		t.Errorf("header %q", rows[0])
	}
	if got, want := rows[2][len(csvColumns)+3], number(r.Grid.Curves[0].Points[1].Tones[0].THD); got != want {
		t.Errorf("THD of the second row %s, want %s", got, want)
	}
}

func TestJSON(t *testing.T) {
	var b bytes.Buffer
	if err := result(t, "a pair").WriteJSON(&b); err != nil {
		t.Fatal(err)
	}
	var back Result
	if err := json.Unmarshal(b.Bytes(), &back); err != nil {
		t.Fatal(err)
	}
	if back.Schema != SchemaVersion || len(back.Grid.Curves) != 3 || back.Grid.Curves[2].Refusal == "" || len(back.Grid.Curves[0].Points) != 3 {
		t.Errorf("came back as %+v", back)
	}
}

func TestPage(t *testing.T) {
	var b bytes.Buffer
	if err := result(t, `<img src=x>`).WritePage(&b); err != nil {
		t.Fatal(err)
	}
	page := b.String()
	if got := strings.Count(page, `role="img"`); got != 9 {
		t.Errorf("%d figures, want 9", got)
	}
	for _, bad := range []string{"<img", "NaN", "Inf"} {
		if strings.Contains(page, bad) {
			t.Errorf("the page holds %q", bad)
		}
	}
	for _, want := range []string{"No curve at", "midband", "Shorter"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}
