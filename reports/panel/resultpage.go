package panel

import (
	_ "embed"
	"fmt"
	"io"
)

//go:embed web/result.css
var resultStyle string

// WriteHTML writes the results as one page that needs no other file and prints
// on two sheets of A4: the panel and its conditions, then the listeners. More
// than two materials, or than forty listeners, need further sheets.
func (r *Results) WriteHTML(w io.Writer) error {
	if err := templates.ExecuteTemplate(w, "result.html", r); err != nil {
		return fmt.Errorf("panel: result page: %w", err)
	}
	return nil
}

// Pages are the materials as the page takes them.
func (r *Results) Pages() []*MaterialResult {
	out := make([]*MaterialResult, len(r.Materials))
	for i := range out {
		out[i] = &r.Materials[i]
	}
	return out
}
