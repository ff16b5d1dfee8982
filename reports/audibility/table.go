package audibility

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"quietcross/dsp/hearing"
	"quietcross/reports/view/format"
)

// Limits say, in words, what the prediction is worth. They go with every result.
var Limits = []string{
	"The prediction is that of a detection model held to published thresholds, for the conditions stated. It is no substitute for a blind test: the listening panel is the judge.",
	"Nothing here is called inaudible: a difference is predicted audible or not, on this material, at this level, through this stage.",
	"The interval of a threshold is the model's own error on published thresholds, 95 %, with that of the listener where a listener file was given. Listeners differ by several decibels more.",
	"Where what is heard lies far from the limit, not every current is rendered. What is said of those between is read from the curve, and a difference that is heard only between two of them is missed.",
}

// LimitWords says what a limit means.
func LimitWords(limit float64) string {
	return fmt.Sprintf("noticed with a probability of %s, chance taken out: %s right in two intervals (d' %s)",
		format.Percent(limit, 2), format.Percent((1+limit)/2, 3), format.Fixed(hearing.Sensitivity(limit), 2))
}

// WriteTable writes the thresholds for a terminal.
func (r *Result) WriteTable(w io.Writer) error {
	fmt.Fprintf(w, "%s: %s\nfor %s\nthreshold where the difference is %s; optimum bias at %s\n\n",
		r.Stage, r.Title, r.Heard, LimitWords(r.Limit), format.Quantity(r.Optimum, "A"))
	t := tabwriter.NewWriter(w, 0, 0, 3, ' ', 0)
	fmt.Fprintln(t, "MATERIAL\tLEVEL\tTHRESHOLD\tEXPECTED\tBIAS\tFINDING")
	for _, f := range r.Findings {
		fmt.Fprintln(t, strings.Join(append(append([]string{f.Material, format.DB(f.Level)}, thresholdCells(f)...), finding(f)), "\t"))
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

// thresholdCells writes a finding's threshold: current, interval and bias.
func thresholdCells(f Finding) []string {
	t := f.Threshold
	if t == nil {
		return []string{"–", "–", "–"}
	}
	return []string{format.Quantity(t.Quiescent, "A"), t.Interval.String(), format.Digits(t.Bias, 4, "V")}
}

// String writes an interval for people, as "3 mA to 20 mA".
func (i Interval) String() string {
	low, high := "0 A", format.Quantity(i.High, "A")
	if i.Low > 0 {
		low = format.Quantity(i.Low, "A")
	}
	if i.Open {
		return low + " to over " + high
	}
	return low + " to " + high
}

func finding(f Finding) string {
	if f.Error != "" {
		return f.Error
	}
	if f.Beside == "" {
		return f.Summary
	}
	return f.Summary + ". " + f.Beside
}
