package survey

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"text/tabwriter"

	"quietcross/reports/view/format"
)

// shownRefused bounds what a terminal shows of a long list.
const shownRefused = 20

// WriteTable writes the answer for a terminal.
func (r *Result) WriteTable(w io.Writer) error {
	for i := range r.Distributions {
		fmt.Fprintln(w, r.Distributions[i].Sentence+".")
	}
	fmt.Fprintf(w, "%s.\n", upper(r.Head.conditions()))
	for _, warning := range r.Warnings {
		fmt.Fprintf(w, "Note: %s\n", warning)
	}
	fmt.Fprintln(w)
	t := tabwriter.NewWriter(w, 0, 0, 3, ' ', 0)
	fmt.Fprintln(t, "STAGE\tOPTIMUM\tCLEAN THERE\t50 %\t90 %\t99 %\tCLEAN AT MINIMUM\tNEVER")
	for i := range r.Distributions {
		d := &r.Distributions[i]
		fmt.Fprintf(t, "%s\t%s\t%s\t", d.Stage, amperes(r.Stages[i].Optimum), shareCell(d.AtOptimum))
		for j := range parts {
			fmt.Fprintf(t, "%s\t", d.currentCell(j))
		}
		fmt.Fprintf(t, "%d\t%d\n", d.Clean, d.Never)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	for i := range r.Distributions {
		if err := r.Distributions[i].writeWorst(w); err != nil {
			return err
		}
	}
	r.writeRefused(w)
	for _, limit := range Limits {
		if _, err := fmt.Fprintf(w, "\n%s", limit); err != nil {
			return err
		}
	}
	_, err := fmt.Fprintln(w)
	return err
}

// writeRefused lists what was not surveyed.
func (r *Result) writeRefused(w io.Writer) {
	for i, refused := range r.Refused {
		if i == 0 {
			fmt.Fprintln(w, "\nNot surveyed:")
		}
		if i == shownRefused {
			fmt.Fprintf(w, "  and %d more\n", len(r.Refused)-i)
			break
		}
		fmt.Fprintf(w, "  %s: %s\n", printable(refused.Name), printable(refused.Reason))
	}
}

// writeWorst lists the recordings that need the most.
func (d *Distribution) writeWorst(w io.Writer) error {
	if len(d.Worst) == 0 {
		return nil
	}
	t := tabwriter.NewWriter(w, 0, 0, 3, ' ', 0)
	fmt.Fprintf(t, "\nWORST, %s\tCLEAN FROM\tEXCERPT\tHEARD AT\n", d.Stage)
	for _, worst := range d.Worst {
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\n", printable(worst.Name), worst.threshold(), worst.Kind, format.Duration(worst.Heard.First))
	}
	return t.Flush()
}

func (w *Worst) threshold() string {
	if w.Threshold == nil {
		return "never clean"
	}
	return amperes(*w.Threshold)
}

func amperes(i float64) string {
	if i == 0 {
		return "–"
	}
	return format.Quantity(i, "A")
}

func shareCell(s *Share) string {
	if s == nil {
		return "–"
	}
	return fmt.Sprintf("%s (%s)", percent(s.Share), percents(s.Interval))
}

// currentCell writes the current of a part of the library with its interval.
func (d *Distribution) currentCell(part int) string {
	if len(d.Currents) == 0 {
		return "–"
	}
	c := &d.Currents[part]
	if c.Quiescent == nil {
		return "not reached"
	}
	text := amperes(*c.Quiescent)
	if c.AtMinimum {
		text = "under " + text
	}
	return fmt.Sprintf("%s (%s)", text, c.interval())
}

// csvColumns are those of [Result.WriteCSV].
var csvColumns = []string{
	"name", "id", "seconds", "loudness_lufs", "peak_dbfs", "loudness_range_lu", "quietest_lufs", "tilt_db_octave",
	"stage", "state", "threshold_a", "worst_excerpt", "level_db", "heard_at_s", "heard_quiescent_a", "detection", "reason",
}

// WriteCSV writes one line a recording and stage, in SI base units, and one a file that
// was not surveyed. What a recording does not have is empty.
func (r *Result) WriteCSV(w io.Writer) error {
	out := csv.NewWriter(w)
	if err := out.Write(csvColumns); err != nil {
		return err
	}
	for i := range r.Recordings {
		for j := range r.Recordings[i].Stages {
			if err := out.Write(csvRow(&r.Recordings[i], &r.Recordings[i].Stages[j])); err != nil {
				return err
			}
		}
	}
	for _, refused := range r.Refused {
		row := make([]string, len(csvColumns))
		row[0], row[len(row)-1] = refused.Name, refused.Reason
		if err := out.Write(row); err != nil {
			return err
		}
	}
	out.Flush()
	return out.Error()
}

func csvRow(r *Recording, v *Verdict) []string {
	row := []string{
		r.Name, r.ID, figure(&r.Seconds), figure(&r.Loudness), figure(&r.Peak), figure(r.Range), figure(r.Quietest), figure(r.Tilt),
		v.Stage, string(v.State), figure(v.Threshold), string(v.Worst),
	}
	for i := range v.Outcomes {
		if v.Outcomes[i].Kind == v.Worst {
			row = append(row, figure(&v.Outcomes[i].Level))
		}
	}
	if v.Heard == nil {
		return append(row, "", "", "", "")
	}
	return append(row, figure(&v.Heard.First), figure(&v.Heard.Quiescent), figure(&v.Heard.Detection), "")
}

func figure[T ~float64](x *T) string {
	if x == nil {
		return ""
	}
	return strconv.FormatFloat(float64(*x), 'g', -1, 64)
}
