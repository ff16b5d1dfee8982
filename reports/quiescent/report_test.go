package quiescent

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"quietcross/reports/view/caution"
)

// TestComparison works two stages out and looks at them in every form.
func TestComparison(t *testing.T) {
	first, err := pairWorkedOut()
	if err != nil {
		t.Fatal(err)
	}
	o := shortly(t, "pair-1w")
	o.Units = 10
	second, err := Run(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	r := New("quietcross", "test", []*Result{first.result, second})
	t.Run("forms", func(t *testing.T) { forms(t, r) })
	t.Run("frontier", func(t *testing.T) { onFrontier(t, r) })
}

func forms(t *testing.T, r *Report) {
	var page, table, data, sheet bytes.Buffer
	for _, err := range []error{r.WritePage(&page), r.WriteTable(&table), r.WriteJSON(&data), r.WriteCSV(&sheet)} {
		if err != nil {
			t.Fatal(err)
		}
	}
	if strings.Contains(page.String(), "<img") || !strings.Contains(page.String(), "Audibility against heat") {
		t.Error("the page has injected markup or lacks its chart")
	}
	if !strings.Contains(page.String(), caution.Mains) {
		t.Error("the page lacks its cautions")
	}
	for _, want := range []string{"Side by side", "meets all limits", "across each emitter resistor", "trimmed"} {
		if !strings.Contains(table.String(), want) {
			t.Errorf("the table lacks %q", want)
		}
	}
	var back Report
	if err := json.Unmarshal(data.Bytes(), &back); err != nil {
		t.Fatal(err)
	}
	if back.Stages[1].Recommendation.Set != r.Stages[1].Recommendation.Set || back.Schema != SchemaVersion {
		t.Error("JSON does not come back")
	}
	records, err := csv.NewReader(&sheet).ReadAll()
	if err != nil {
		t.Fatal(err) // uneven lines among others
	}
	if want := 1 + len(r.Stages[0].Rungs) + len(r.Stages[1].Rungs); len(records) != want {
		t.Errorf("%d lines of CSV, want %d", len(records), want)
	}
}

// onFrontier holds the frontier to its definition, pair by pair.
func onFrontier(t *testing.T, r *Report) {
	var all []Mark
	for _, s := range r.Stages {
		all = append(all, marks(s)...)
	}
	on := map[Mark]bool{}
	for _, m := range r.Frontier {
		on[m] = true
	}
	for _, m := range all {
		beaten := false
		for _, other := range all {
			if other.Heat <= m.Heat && other.Worst <= m.Worst && (other.Heat < m.Heat || other.Worst < m.Worst) {
				beaten = true
			}
		}
		if on[m] == beaten {
			t.Errorf("%+v: on the frontier %v, beaten %v", m, on[m], beaten)
		}
	}
	if len(on) < 3 {
		t.Errorf("%d marks on the frontier", len(on))
	}
}

// TestNoAnswer writes a stage for which no current will do.
func TestNoAnswer(t *testing.T) {
	run, err := pairTooHot()
	if err != nil {
		t.Fatal(err)
	}
	r := New("quietcross", "test", []*Result{run.result})
	var page, table bytes.Buffer
	if err := r.WritePage(&page); err != nil {
		t.Fatal(err)
	}
	if err := r.WriteTable(&table); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"No quiescent current meets all limits", "thermal.sink_to_air", "larger sink"} {
		if !strings.Contains(table.String(), want) || !strings.Contains(page.String(), want) {
			t.Errorf("%q is missing", want)
		}
	}
}

// TestHistogram checks that every value is counted once.
func TestHistogram(t *testing.T) {
	h := histogramTrace([]float64{1, 2, 2.5, 3, 0}, 1, 3)
	sum := 0.0
	for _, n := range h.Y {
		sum += n
	}
	if sum != 4 || h.Y[0] != 1 || h.Y[spreadBins-1] != 1 || math.Abs(h.X[spreadBins]-3) > 1e-12 {
		t.Errorf("%v at %v", h.Y, h.X)
	}
}
