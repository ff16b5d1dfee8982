// Package sheet writes plain result pages: a title, sections of text, figures
// and tables, in one self-contained HTML file without scripts. Every text is
// escaped; a name from a file cannot inject markup.
package sheet

import (
	_ "embed"
	"html/template"
	"io"

	"quietcross/reports/view/plot"
)

// Sheet is one page.
type Sheet struct {
	// Kicker stands small above the title, as "quietcross measurement".
	Kicker, Title, Subtitle string
	// Warnings stand first, each a sentence.
	Warnings []string
	// Cautions stand before all that is read or played.
	Cautions []string
	Sections []Section
	// Styles is CSS that drawings need.
	Styles string
}

// Section is one part of a page under a heading.
type Section struct {
	Heading string
	// Text is paragraphs before the figures, Notes smaller ones after all.
	Text, Notes []string
	// Drawings are markup made by this program, such as a circuit drawing; they
	// are not escaped.
	Drawings []template.HTML
	Figures  []Figure
	Tables   []Table
	Clips    []Clip
}

// Clip is a sound file beside the page.
type Clip struct {
	// Label says what is heard; File is the path relative to the page, with
	// forward slashes.
	Label, File string
}

// Figure is a diagram and what it shows.
type Figure struct {
	*plot.Figure
	Caption string
}

// Drawing returns the figure as markup; plot escapes all text in it.
func (f Figure) Drawing() template.HTML { return template.HTML(f.SVG()) }

// Table is rows of texts, as formatted for people. The first column holds names
// and is set to the left, the others to the right unless Prose is set.
type Table struct {
	Caption string
	Columns []string
	Rows    [][]string
	Prose   bool
}

//go:embed assets/sheet.tmpl
var sheetTemplate string

//go:embed assets/sheet.css
var sheetStyle string

var templates = template.Must(template.New("sheet").Parse(sheetTemplate))

// Style returns the page's CSS, that of its figures included.
func (s *Sheet) Style() template.CSS { return template.CSS(plot.Style() + sheetStyle + s.Styles) }

// Write writes the page.
func (s *Sheet) Write(w io.Writer) error { return templates.Execute(w, s) }
