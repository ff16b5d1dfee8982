package fit

import (
	"encoding/json"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"text/tabwriter"

	"quietcross/dsp/distortion"
	"quietcross/dsp/level"
	"quietcross/reports/view/format"
)

// SchemaVersion is the version of the JSON.
const SchemaVersion = 1

// Report is a fit of one recording.
type Report struct {
	Schema    int     `json:"schema"`
	Program   string  `json:"program"`
	Version   string  `json:"version"`
	File      string  `json:"file"`
	Stage     string  `json:"stage"`
	Title     string  `json:"title"`
	FullScale float64 `json:"full_scale_v"` // output voltage of digital full scale
	Fit       *Result `json:"fit"`
}

// WriteJSON writes the fit for programs, in SI base units.
func (r *Report) WriteJSON(w io.Writer) error {
	encoder := json.NewEncoder(w)
	encoder.SetIndent("", "  ")
	return encoder.Encode(r)
}

// WriteTable writes the fit for a terminal.
func (r *Report) WriteTable(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s through %s: %s\nfull scale is %s at the output; %d levels; differences are %s times their uncertainty\n\n",
		r.File, r.Stage, r.Title, format.Digits(r.FullScale, 4, "V"), len(r.Fit.Observations), format.Number(r.Fit.Misfit, 2))
	columns(&b, 0, parameterColumns, r.parameters())
	for _, s := range r.Fit.Statements {
		fmt.Fprintf(&b, "\n%s", sentence(s))
	}
	fmt.Fprintf(&b, "\n\n%s\n", linesCaption)
	head, rows := r.lines()
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

func (r *Report) parameters() [][]string {
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

// floor is the minimum level shown, dB.
const floor = -120

const linesCaption = "Harmonics or products re the tones' sum, dB, recorded / fitted"

// shown reports whether a line is in tables: the low harmonics of a tone, the
// products of second and third order of two.
func shown(l Line) bool {
	if l.N2 == 0 && l.N1 > 0 {
		return l.N1 <= 9
	}
	return l.N1 != 0 && l.Order() <= 3
}

// key names a line: the order of a harmonic, or the product.
func key(l Line) string {
	if l.N2 == 0 {
		return strconv.Itoa(l.N1)
	}
	return distortion.ProductName(l.N1, l.N2)
}

// lines returns a table of recorded and fitted levels, one row a level.
func (r *Report) lines() (head []string, rows [][]string) {
	head = []string{"output"}
	for _, o := range r.Fit.Observations {
		for _, l := range o.Lines {
			if shown(l) && !slices.Contains(head, key(l)) {
				head = append(head, key(l))
			}
		}
	}
	for _, o := range r.Fit.Observations {
		row := make([]string, len(head))
		row[0] = format.Digits(o.Total(), 3, "V")
		for i := range row[1:] {
			row[i+1] = "–"
		}
		for _, l := range o.Lines {
			if i := slices.Index(head, key(l)); i > 0 && shown(l) {
				row[i] = recorded(o, l) + " / " + levelOf(l.Model, o)
			}
		}
		rows = append(rows, row)
	}
	return head, rows
}

// recorded writes a recorded line, or that it is in the noise.
func recorded(o Observation, l Line) string {
	if resolved(l) {
		return levelOf(l.Volts, o)
	}
	return "noise"
}

// levelOf writes a level, or that it is of no account.
func levelOf(volts float64, o Observation) string {
	if d := ratio(volts, o); d > floor {
		return format.Fixed(float64(d), 1)
	}
	return "none"
}

func resolved(l Line) bool { return max(l.Volts, -l.Volts) > 3*l.Sigma }

func ratio(volts float64, o Observation) level.DB {
	return level.FromAmplitude(max(volts, -volts) / o.Total())
}

// sentence makes one of a statement.
func sentence(s string) string { return strings.ToUpper(s[:1]) + s[1:] + "." }
