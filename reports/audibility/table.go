package audibility

import (
	"fmt"
	"io"
	"text/tabwriter"

	"quietcross/reports/view/format"
)

// Limits say, in words, what the prediction is worth. They go with every result.
var Limits = []string{
	"The prediction is that of an ear model for average trained listeners at the stated level. It is no substitute for a blind test: the listening panel is the judge.",
	"Nothing here is called inaudible: a difference is predicted audible or not, on this material, at this level, through this stage.",
}

// WriteTable writes the thresholds for a terminal.
func (r *Result) WriteTable(w io.Writer) error {
	fmt.Fprintf(w, "%s: %s\nfull-scale sine at %s SPL; threshold at a detection probability of %s; optimum bias at %s\n\n",
		r.Stage, r.Title, format.DB(r.Playback), format.Percent(r.Limit, 2), format.Quantity(r.Optimum, "A"))
	t := tabwriter.NewWriter(w, 0, 0, 3, ' ', 0)
	fmt.Fprintln(t, "MATERIAL\tLEVEL\tTHRESHOLD\tBIAS\tFINDING")
	for _, f := range r.Findings {
		current, bias := thresholdCells(f)
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\t%s\n", f.Material, format.DB(f.Level), current, bias, finding(f))
	}
	if err := t.Flush(); err != nil {
		return err
	}
	for _, line := range Limits {
		if _, err := fmt.Fprintf(w, "\n%s", line); err != nil {
			return err
		}
	}
	_, err := fmt.Fprintln(w)
	return err
}

// thresholdCells writes a finding's threshold, current and bias.
func thresholdCells(f Finding) (current, bias string) {
	if f.Threshold == nil {
		return "–", "–"
	}
	return format.Quantity(f.Threshold.Quiescent, "A"), format.Digits(f.Threshold.Bias, 4, "V")
}

func finding(f Finding) string {
	if f.Error != "" {
		return f.Error
	}
	return f.Summary
}
