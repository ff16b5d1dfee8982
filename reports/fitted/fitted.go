// Package fitted shows which bias and part values explain a recorded stage, how
// well each is known, and what the recording cannot tell.
package fitted

import (
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"quietcross/corpus/fit"
	"quietcross/dsp/level"
	"quietcross/reports/format"
)

// SchemaVersion is the version of the JSON.
const SchemaVersion = 1

// Result is a fit of one recording.
type Result struct {
	Schema    int         `json:"schema"`
	Program   string      `json:"program"`
	Version   string      `json:"version"`
	File      string      `json:"file"`
	Stage     string      `json:"stage"`
	Title     string      `json:"title"`
	FullScale float64     `json:"full_scale_v"` // output voltage of digital full scale
	Fit       *fit.Result `json:"fit"`
}

// WriteJSON writes the fit for programs, in SI base units.
func (r *Result) WriteJSON(w io.Writer) error {
	encoder := json.NewEncoder(w)
	encoder.SetIndent("", "  ")
	return encoder.Encode(r)
}

// WriteTable writes the fit for a terminal.
func (r *Result) WriteTable(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s through %s: %s\nfull scale is %s at the output; %d levels; differences are %s times their uncertainty\n\n",
		r.File, r.Stage, r.Title, format.Digits(r.FullScale, 4, "V"), len(r.Fit.Observations), format.Number(r.Fit.Misfit, 2))
	columns(&b, 0, parameterColumns, r.parameters())
	for _, s := range r.Fit.Statements {
		fmt.Fprintf(&b, "\n%s", sentence(s))
	}
	fmt.Fprintf(&b, "\n\n%s\n", harmonicsCaption)
	head, rows := r.harmonics()
	columns(&b, tabwriter.AlignRight, head, rows)
	_, err := io.WriteString(w, b.String())
	return err
}

func columns(b *strings.Builder, flags uint, head []string, rows [][]string) {
	t := tabwriter.NewWriter(b, 0, 0, 3, ' ', flags)
	for _, row := range append([][]string{head}, rows...) {
		fmt.Fprintln(t, strings.Join(row, "\t")+"\t")
	}
	t.Flush() // into memory: it cannot fail
}

var parameterColumns = []string{"value", "found", "95 % interval", "fixed by the recording"}

func (r *Result) parameters() [][]string {
	var rows [][]string
	for _, p := range r.Fit.Parameters {
		fixed := "no"
		if p.Identified {
			fixed = "yes"
		}
		unit := strings.Replace(string(p.Unit), "ohm", "Ω", 1)
		rows = append(rows, []string{
			p.Key, format.Digits(p.Value, 4, unit),
			format.Digits(p.Low, 4, unit) + " to " + format.Digits(p.High, 4, unit), fixed,
		})
	}
	return rows
}

// shownOrder is the highest harmonic in tables, floor the least level shown, dB.
const (
	shownOrder = 9
	floor      = -120
)

const harmonicsCaption = "Harmonics re the fundamental, dB, recorded / fitted"

// harmonics returns a table of recorded and fitted levels, one line a level.
func (r *Result) harmonics() (head []string, rows [][]string) {
	head = []string{"output"}
	for n := 2; n <= shownOrder; n++ {
		head = append(head, fmt.Sprintf("%d", n))
	}
	for _, o := range r.Fit.Observations {
		row := []string{format.Digits(o.Fundamental, 3, "V")}
		for _, h := range o.Harmonics {
			if h.Order <= shownOrder {
				row = append(row, recorded(o, h)+" / "+shown(h.Model, o))
			}
		}
		for len(row) < len(head) {
			row = append(row, "–")
		}
		rows = append(rows, row)
	}
	return head, rows
}

// recorded writes a recorded harmonic, or that it is in the noise.
func recorded(o fit.Observation, h fit.Harmonic) string {
	if resolved(h) {
		return shown(h.Volts, o)
	}
	return "noise"
}

// shown writes a level, or that it is of no account.
func shown(volts float64, o fit.Observation) string {
	if l := ratio(volts, o); l > floor {
		return format.Fixed(float64(l), 1)
	}
	return "none"
}

func resolved(h fit.Harmonic) bool { return max(h.Volts, -h.Volts) > 3*h.Sigma }

func ratio(volts float64, o fit.Observation) level.DB {
	return level.FromAmplitude(max(volts, -volts) / o.Fundamental)
}

// sentence makes one of a statement.
func sentence(s string) string { return strings.ToUpper(s[:1]) + s[1:] + "." }
