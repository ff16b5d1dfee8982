package inspect

import (
	"fmt"
	"io"
	"text/tabwriter"

	"quietcross/reports/format"
	"quietcross/stage/network"
)

// WriteTable writes the inspection for people, one column a setting.
func (look *Inspection) WriteTable(w io.Writer) error {
	if _, err := fmt.Fprintf(w, "%s: %s\ncircuit: %s\n\n", look.Spec.Name, look.Spec.Title, look.Spec.Circuit); err != nil {
		return err
	}
	t := tabwriter.NewWriter(w, 0, 0, 3, ' ', 0)
	for _, row := range look.rows() {
		fmt.Fprint(t, row.name)
		for _, rung := range look.Rungs {
			fmt.Fprint(t, "\t", row.cell(rung))
		}
		fmt.Fprintln(t)
	}
	if err := t.Flush(); err != nil {
		return err
	}
	_, err := fmt.Fprint(w, "\n", notes)
	return err
}

const notes = `Crossover width: where the incremental gain is below the middle between its
least and its value at half of clipping. Clipping: where the incremental gain
has fallen to half of its greatest. Optimum: IQ·RE = kT/q (Oliver 1971).
Caution: a real stage runs hot; set bias from its minimum, with a current-limited
supply. Work on mains-powered equipment is for qualified people, by local rules.
`

// A row is one line of the table.
type row struct {
	name string
	cell func(Rung) string
}

func (look *Inspection) rows() []row {
	rows := []row{
		{"setting", func(r Rung) string { return r.Label }},
		{"bias", func(r Rung) string { return format.Digits(r.Point.Bias, 4, "V") }},
		{"quiescent current", func(r Rung) string { return format.Quantity(r.Point.Quiescent, "A") }},
		{"optimum current", func(r Rung) string { return optional(r.OptimumQuiescent, "A") }},
		{"output at rest", func(r Rung) string { return format.Quantity(r.Point.Output, "V") }},
		{"drawn at rest", func(r Rung) string { return format.Quantity(r.Point.SupplyPower, "W") }},
		{"device heat at rest", func(r Rung) string { return format.Quantity(r.Point.Dissipation, "W") }},
		{"gain at rest", func(r Rung) string { return gain(r.GainRest) }},
		{"least gain", func(r Rung) string { return gain(r.Crossover.Least) }},
		{"gain at full swing", func(r Rung) string { return gain(r.GainFull) }},
		{"crossover width", func(r Rung) string { return format.Quantity(r.Crossover.Width, "V") }},
		{"dead zone", func(r Rung) string { return format.Quantity(r.Crossover.DeadZone, "V") }},
		{"clips at input", func(r Rung) string {
			return format.Digits(r.ClipLow, 4, "V") + " / " + format.Digits(r.ClipHigh, 4, "V")
		}},
		{"default drive (peak)", func(r Rung) string { return format.Digits(r.Drive, 4, "V") }},
	}
	for i := range look.Rungs[0].Point.Supplies {
		rows = append(rows, look.supplyRow(i))
	}
	for _, device := range look.Rungs[0].Point.Devices {
		rows = append(rows, deviceRows(device.Name)...)
	}
	return rows
}

// gain writes an incremental gain; the next to nothing of an unbiased stage is
// told as such.
func gain(value float64) string {
	if value < 1e-6 {
		return "under 0.000001"
	}
	return format.Fixed(value, 5)
}

func optional(value float64, unit string) string {
	if value == 0 {
		return "–"
	}
	return format.Quantity(value, unit)
}

func (look *Inspection) supplyRow(i int) row {
	return row{look.Rungs[0].Point.Supplies[i].Name, func(r Rung) string {
		rail := r.Point.Supplies[i]
		return format.Digits(rail.Volts, 4, "V") + ", " + format.Quantity(rail.Current, "A")
	}}
}

// deviceRows are the lines of one device; a setting that replaces the device
// (an ideal bias source in place of bias diodes) leaves them out.
func deviceRows(name string) []row {
	line := func(what string, cell func(network.Operation) string) row {
		return row{name + " " + what, func(r Rung) string {
			for _, d := range r.Point.Devices {
				if d.Name == name {
					return cell(d)
				}
			}
			return "–"
		}}
	}
	return []row{
		line("current", func(d network.Operation) string { return format.Quantity(d.Current, "A") }),
		line("control current", func(d network.Operation) string { return optional(d.ControlCurrent, "A") }),
		line("control voltage", func(d network.Operation) string { return optional(d.Control, "V") }),
		line("main voltage", func(d network.Operation) string { return format.Digits(d.Main, 4, "V") }),
		line("heat", func(d network.Operation) string { return format.Quantity(d.Dissipation, "W") }),
	}
}
