package quiescent

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"quietcross/dsp/level"
	"quietcross/reports/view/format"
	"quietcross/reports/view/sheet"
)

// WriteTable writes the report for a terminal.
func (r *Report) WriteTable(w io.Writer) error {
	for i, s := range r.Stages {
		if i > 0 {
			fmt.Fprintln(w)
		}
		if err := writeStage(w, s); err != nil {
			return err
		}
	}
	if len(r.Stages) > 1 {
		if err := r.writeComparison(w); err != nil {
			return err
		}
	}
	_, err := fmt.Fprintf(w, "\n%s\n", Caveats[0])
	return err
}

func writeStage(w io.Writer, s *Result) error {
	fmt.Fprintf(w, "%s: %s\n%s\n\n", s.Stage, s.Title, conditions(s))
	for _, line := range answer(s) {
		fmt.Fprintln(w, line)
	}
	for _, warning := range s.Recommendation.Warnings {
		fmt.Fprintf(w, "Warning: %s.\n", warning)
	}
	fmt.Fprintln(w, Rule)
	for _, t := range []sheet.Table{soundTable(s), useTable(s), heatTable(s)} {
		fmt.Fprintf(w, "\n%s\n", t.Caption)
		if err := writeGrid(w, t.Columns, t.Rows); err != nil {
			return err
		}
	}
	if len(s.Remedies) > 0 {
		fmt.Fprintf(w, "\n%s:\n", remediesCaption(s))
		if err := writeGrid(w, remedyColumns, remedyRows(s)); err != nil {
			return err
		}
	}
	if s.Guide != nil {
		fmt.Fprintln(w, "\nThe parts:")
		for _, line := range bought(s) {
			fmt.Fprintln(w, line)
		}
		fmt.Fprintln(w, "\nTo set it:")
		for i, step := range steps(s) {
			fmt.Fprintf(w, "%d. %s\n", i+1, step)
		}
	}
	if s.Yield != nil {
		fmt.Fprintln(w)
		return writeGrid(w, yieldColumns, yieldRows(s.Yield))
	}
	return nil
}

// conditions says what everything holds for.
func conditions(s *Result) string {
	text := fmt.Sprintf("full scale is %s peak at the stage's input; for %s, who notices a difference with a probability over %s; air %s to %s, junctions up to %s",
		format.Digits(s.Drive, 3, "V"), s.Heard, format.Percent(s.Limits.Detection, 2), celsius(s.Limits.Coldest), celsius(s.Limits.Hottest), celsius(s.Limits.Junction))
	if s.Limits.Idle != nil {
		text += fmt.Sprintf(", at most %s at rest", format.Quantity(*s.Limits.Idle, "W"))
	}
	if s.Memory {
		text += "; the circuit has memory: tones are of its periodic state, and sound is rendered in time"
	}
	return text
}

func writeGrid(w io.Writer, columns []string, rows [][]string) error {
	t := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, row := range append([][]string{columns}, rows...) {
		for i, cell := range row {
			if i > 0 {
				fmt.Fprint(t, "\t")
			}
			fmt.Fprint(t, cell)
		}
		fmt.Fprintln(t)
	}
	return t.Flush()
}

// soundTable is what each current does to sound.
func soundTable(s *Result) sheet.Table {
	t := sheet.Table{Caption: "Sound, stage cold", Columns: []string{"quiescent", "", "noticed"}}
	tones := firstTones([]*Result{s})
	for _, tone := range tones {
		t.Columns = append(t.Columns, "THD "+format.DB(tone.Level))
	}
	if s.Memory {
		for _, at := range []int{0, len(Frequencies) - 1} {
			t.Columns = append(t.Columns, format.Quantity(Frequencies[at], "Hz")+", "+format.DB(tones[0].Level))
		}
	}
	t.Columns = append(t.Columns, "mean", "class A to")
	for i := range s.Rungs {
		r := &s.Rungs[i]
		if r.Refusal != "" {
			t.Rows = append(t.Rows, refused(s, r, len(t.Columns)))
			continue
		}
		row := []string{amperes(r.Quiescent), name(s, r), "–"}
		if heard, ok := r.Worst(); ok {
			row[2] = chance(heard.Detection)
		}
		for _, tone := range r.Tones {
			row = append(row, format.Percent(tone.THD, 3))
		}
		if s.Memory {
			for _, at := range []int{0, len(Frequencies) - 1} {
				row = append(row, format.Percent(r.Tones[0].ByFrequency[at].THD, 3))
			}
		}
		t.Rows = append(t.Rows, append(row, format.Percent(r.Distortion, 3), format.Quantity(r.ClassA, "W")))
	}
	return t
}

// useTable is what each current comes to in use, and what is heard there.
func useTable(s *Result) sheet.Table {
	t := sheet.Table{Caption: "In use", Columns: []string{"quiescent", "", "in its own air", "noticed", "in any air", "noticed"}}
	for i := range s.Rungs {
		r := &s.Rungs[i]
		if r.Use == nil {
			continue
		}
		row := []string{amperes(r.Quiescent), name(s, r)}
		for _, span := range []*Span{&r.Use.Own, &r.Use.Any} {
			row = append(row, amperes(span.Low)+" to "+amperes(span.High), chance(span.Heard.Detection))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// heatTable is what each current costs in heat.
func heatTable(s *Result) sheet.Table {
	t := sheet.Table{Caption: "Heat", Columns: []string{"quiescent", "", "emitter", "at rest", "idle", "programme", "sine", "loop gain", "drift", "an hour", "breaks"}}
	for i := range s.Rungs {
		r := &s.Rungs[i]
		if r.Refusal != "" {
			t.Rows = append(t.Rows, refused(s, r, len(t.Columns)))
			continue
		}
		across := format.Quantity(r.EmitterVolts, "V")
		if r.Quiescent == 0 {
			across = "–" // a leakage that no meter reads
		}
		low, high := r.Drift()
		t.Rows = append(t.Rows, []string{
			amperes(r.Quiescent), name(s, r), across,
			format.Quantity(r.Rest.Supply, "W"), temperature(&r.Idle), temperature(&r.Programme), temperature(&r.Sine),
			format.Fixed(r.Idle.Stability(), 2), format.Fixed(low, 2) + "–" + format.Fixed(high, 2),
			format.Quantity(r.HourJoules/3600, "Wh"), broken(r),
		})
	}
	return t
}

// refused is the row of a current that the stage cannot be set to.
func refused(s *Result, r *Rung, columns int) []string {
	row := make([]string, columns)
	row[0], row[1] = amperes(r.Quiescent), "no such operating point"
	return row
}

// name says which of the currents that are told of a rung is.
func name(s *Result, r *Rung) string {
	var list []string
	rec := &s.Recommendation
	for _, m := range []struct {
		at   float64
		name string
	}{{rec.Set, "to set"}, {rec.Best, "best"}, {rec.Optimum, "textbook"}, {rec.built(), "as built"}} {
		if s.at(m.at) == r {
			list = append(list, m.name)
		}
	}
	return strings.Join(list, ", ")
}

// broken lists the limits of heat that a rung breaks, shortly.
func broken(r *Rung) string {
	var list []string
	for _, b := range r.Breaks {
		list = append(list, map[Binding]string{BindsStability: "stability", BindsIdle: "idle power", BindsJunction: "junction"}[b])
	}
	if len(list) == 0 {
		return "–"
	}
	return strings.Join(list, ", ")
}

var remedyColumns = []string{"change", "for", "from", "to", "at", "enough", "what was found"}

// remediesCaption says what the remedies are for.
func remediesCaption(s *Result) string {
	if s.Recommendation.Met {
		return "What would keep the output devices within their limits, tried one by one"
	}
	return "What would make room, tried one by one"
}

func remedyRows(s *Result) [][]string {
	var rows [][]string
	for i := range s.Remedies {
		rows = append(rows, remedy(&s.Remedies[i]))
	}
	return rows
}

var yieldColumns = []string{"units", "meet all limits", "mean, cold", "deviation", "mean, settled", "deviation", "fail by"}

func yieldRows(y *Yield) [][]string {
	row := func(name string, b *Batch) []string {
		return []string{
			fmt.Sprintf("%s %d", name, y.Units),
			fmt.Sprintf("%s (%s to %s)", format.Percent(b.Meet, 3), format.Percent(b.MeetLow, 3), format.Percent(b.MeetHigh, 3)),
			amperes(b.Mean), amperes(b.Deviation), amperes(b.WarmMean), amperes(b.WarmDeviation), failures(b),
		}
	}
	return [][]string{row("trimmed, each of", &y.Trimmed), row("fixed bias, each of", &y.Fixed)}
}

// failures lists what units fail by, in a fixed order.
func failures(b *Batch) string {
	text := ""
	for _, binding := range []Binding{BindsHearing, BindsJunction, BindsStability, BindsIdle, BindsCircuit} {
		if n := b.Fails[binding]; n > 0 {
			if text != "" {
				text += ", "
			}
			text += fmt.Sprintf("%s %d", binding, n)
		}
	}
	if text == "" {
		return "–"
	}
	return text
}

var comparisonColumns = []string{"stage", "range", "set", "at rest", "THD at full drive", "noticed at worst", "units that meet"}

func (r *Report) comparisonRows() [][]string {
	var rows [][]string
	for _, s := range r.Stages {
		rec := s.Recommendation
		if s.Chosen == nil {
			rows = append(rows, []string{s.Stage, "none", "–", "–", "–", "–", "–"})
			continue
		}
		detection, _ := s.Chosen.detection()
		share := "–"
		if s.Yield != nil {
			share = format.Percent(s.Yield.Trimmed.Meet, 3)
		}
		rows = append(rows, []string{
			s.Stage, amperes(rec.Minimum) + " to " + amperes(rec.Maximum), amperes(rec.Set),
			format.Quantity(s.Chosen.Rest.Supply, "W"), toneAt(s.Chosen, 0), chance(detection), share,
		})
	}
	return rows
}

// toneAt returns the THD of a rung at a level, if that was measured.
func toneAt(r *Rung, l level.DB) string {
	for _, tone := range r.Tones {
		if tone.Level == l {
			return format.Percent(tone.THD, 3)
		}
	}
	return "–"
}

func (r *Report) writeComparison(w io.Writer) error {
	fmt.Fprintln(w, "\nSide by side:")
	return writeGrid(w, comparisonColumns, r.comparisonRows())
}
