package sheet

import (
	"bytes"
	"strings"
	"testing"

	"quietcross/reports/view/plot"
)

// TestNothingInjectsMarkup puts markup into every text of a page.
func TestNothingInjectsMarkup(t *testing.T) {
	const evil = `<img src=x onerror=alert(1)>`
	s := &Sheet{
		Kicker: evil, Title: evil, Subtitle: evil, Warnings: []string{evil}, Cautions: []string{evil},
		Sections: []Section{{
			Heading: evil, Text: []string{evil}, Notes: []string{evil},
			Figures: []Figure{{Caption: evil, Figure: &plot.Figure{
				Name: "a", Title: evil, Desc: evil,
				X: plot.Axis{Label: evil, Lo: 0, Hi: 1}, Y: plot.Axis{Unit: evil, Lo: 0, Hi: 1},
				Traces: []plot.Trace{{Label: evil, X: []float64{0, 1}, Y: []float64{0, 1}}},
			}}},
			Clips:  []Clip{{Label: evil, File: evil}},
			Tables: []Table{{Caption: evil, Columns: []string{evil, evil}, Rows: [][]string{{evil, evil}}}},
		}},
	}
	var b bytes.Buffer
	if err := s.Write(&b); err != nil {
		t.Fatal(err)
	}
	page := b.String()
	if strings.Contains(page, "<img") {
		t.Error("markup was injected")
	}
	if got := strings.Count(page, "&lt;img"); got < 16 {
		t.Errorf("%d escaped texts, want all 16 and more: something was dropped", got)
	}
}
