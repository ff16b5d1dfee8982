package report

import (
	"encoding/csv"
	"encoding/json"
	"io"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"

	"quietcross/corpus"
	"quietcross/dsp/level"
)

// Write writes report.json and spectra.csv into folder dir, each whole or not at
// all.
func (r *Report) Write(dir string) error {
	text, err := json.MarshalIndent(r, "", " ")
	if err != nil {
		return err
	}
	text = append(numberList.ReplaceAllFunc(text, onOneLine), '\n')
	err = corpus.WriteFile(filepath.Join(dir, ReportFile), func(w io.Writer) error {
		_, err := w.Write(text)
		return err
	})
	if err != nil {
		return err
	}
	return corpus.WriteFile(filepath.Join(dir, SpectraFile), r.WriteSpectra)
}

// numberList is a list of numbers as MarshalIndent writes it, one a line.
var numberList = regexp.MustCompile(`\[\n +(?:(?:-?[0-9.eE+-]+|null),?\n +)+\]`)

// onOneLine takes the line breaks out of a list of numbers.
func onOneLine(list []byte) []byte {
	return slices.DeleteFunc(list, func(b byte) bool { return b == ' ' || b == '\n' })
}

// WriteSpectra writes all spectra as comma-separated values (RFC 4180), one
// value a line; SCHEMA.md documents the columns.
func (r *Report) WriteSpectra(w io.Writer) error {
	table := csv.NewWriter(w)
	rows := rows{table}
	rows.write("item", "track", "rung", "kind", "frequency_hz", "level_dbfs")
	for i := range r.Items {
		item := &r.Items[i]
		rows.bands(item.ID, "reference", "", item.Bands, item.Levels)
		rows.peaks(item.ID, "reference", "", item.Spectrum)
		for k := range item.Renderings {
			rendering := &item.Renderings[k]
			rows.bands(item.ID, "residual", r.Rungs[k].ID, item.Bands, rendering.Levels)
			rows.peaks(item.ID, "rendering", r.Rungs[k].ID, rendering.Spectrum)
		}
	}
	table.Flush()
	return table.Error()
}

// rows writes lines of the table; errors are kept by the writer until the end.
type rows struct{ table *csv.Writer }

func (w rows) write(cells ...string) { _ = w.table.Write(cells) }

func (w rows) bands(item, track, rung string, mids []float64, levels []level.DB) {
	for i, l := range levels {
		w.write(item, track, rung, "third-octave", number(mids[i], 6), decibelField(l))
	}
}

func (w rows) peaks(item, track, rung string, s *Spectrum) {
	if s == nil {
		return
	}
	for i, l := range s.Level {
		w.write(item, track, rung, "peak", number(s.Frequency[i], 7), decibelField(l))
	}
}

func number(v float64, digits int) string { return strconv.FormatFloat(v, 'g', digits, 64) }

// decibels writes silence as an empty cell.
func decibelField(l level.DB) string {
	if l == silence {
		return ""
	}
	return strconv.FormatFloat(float64(l), 'f', 2, 64)
}
