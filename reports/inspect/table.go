package inspect

import (
	"fmt"
	"io"
	"math"
	"strings"
	"text/tabwriter"

	"quietcross/corpus/bias"
	"quietcross/reports/view/format"
	"quietcross/stage"
	"quietcross/stage/device"
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
	for i := range look.Rungs {
		for _, broken := range look.Rungs[i].Warnings() {
			fmt.Fprintf(w, "\nwarning: %s: %s\n", look.Rungs[i].Label, broken)
		}
	}
	if look.Inverts {
		if _, err := fmt.Fprint(w, "\n", inverted); err != nil {
			return err
		}
	}
	_, err := fmt.Fprint(w, "\n", notes)
	return err
}

const inverted = `The driver inverts: the output falls while the input rises, and gains are
negative. Rendered files have it turned back where levels are matched; in a
real amplifier, swap the loudspeaker's leads to undo it.
`

const notes = `Bias in volts is an ideal source that holds; a quiescent current is the stage's
own bias parts, trimmed cold unless "warm" is said. Condition: the quiescent
current against the optimum, IQ·RE = kT/q (Oliver 1971) or, where theory gives
none, that of equal gains at rest and beyond the crossover; within 10 %. Dead
zone: where the incremental gain is under half of the full gain beyond it.
Crossover width: at half of the dip's depth. Clipping: where the gain has fallen
to half of its maximum. Settled: in the air, load and drive above, each with its
own source. Warming up, a loud minute at the drive, the quiet after it: what would
flow with no signal at the temperatures of the moment. Load of 45°: of the size of
the load's resistance. Square (3.15 kHz) and sine, 19 and 20 kHz: all products re
the sine, or re one tone, 6 dB under the drive.
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
		{"biased by", func(r Rung) string { return string(r.Source) }},
		{"trimmed part", func(r Rung) string { return trimmed(r.Trim) }},
		{"condition", func(r Rung) string { return r.Biased().Stage().Says(r.Condition) }},
		{"optimum current", func(r Rung) string { return optional(look.Optimum, "A") }},
		{"output at rest", func(r Rung) string { return format.Quantity(r.Point.Output, "V") }},
		{"drawn at rest", func(r Rung) string { return format.Quantity(r.Point.SupplyPower, "W") }},
		{"device heat at rest", func(r Rung) string { return format.Quantity(r.Point.Dissipation, "W") }},
		{"gain at rest", func(r Rung) string { return gain(r.GainAtZero) }},
		{"minimum gain", func(r Rung) string { return gain(r.MinimumGain) }},
		{"gain at full swing", func(r Rung) string { return gain(r.GainAtSwing) }},
		{"crossover width", func(r Rung) string { return format.Quantity(r.CrossoverWidth, "V") }},
		{"dead zone", func(r Rung) string { return format.Quantity(r.DeadZone, "V") }},
		{"clips at input", func(r Rung) string {
			return format.Digits(r.ClipLow, 4, "V") + " / " + format.Digits(r.ClipHigh, 4, "V")
		}},
		{"load", func(Rung) string { return format.Quantity(look.Spec.Load.Ohms, "Ω") }},
		{"air", func(Rung) string { return format.Celsius(look.Spec.Thermal.Ambient) }},
		{"drive (peak)", func(Rung) string { return format.Digits(look.Drive, 4, "V") }},
	}
	if look.Inverts {
		rows = append(rows, row{"polarity", func(Rung) string { return "inverted" }})
	}
	rows = append(rows, warmthRows()...)
	rows = append(rows, look.limitRows()...)
	for i := range look.Rungs[0].Point.Supplies {
		rows = append(rows, look.supplyRow(i))
	}
	for _, device := range look.Rungs[0].Point.Devices {
		rows = append(rows, deviceRows(device)...)
	}
	return rows
}

// gain writes an incremental gain; the next to nothing of an unbiased stage is
// told as such.
func gain(value float64) string {
	if math.Abs(value) < 1e-6 {
		return "under 0.000001"
	}
	return format.Fixed(value, 5)
}

// trimmed names the part that was trimmed and its value.
func trimmed(t *bias.Trim) string {
	if t == nil {
		return "–"
	}
	return t.Key + " " + format.Digits(t.Value, 4, strings.ReplaceAll(t.Unit, "ohm", "Ω"))
}

func optional(value float64, unit string) string {
	if value == 0 {
		return "–"
	}
	return format.Quantity(value, unit)
}

// warmthRows are what a setting costs in heat.
func warmthRows() []row {
	full := func(r Rung) stage.Power { return r.Powers[len(r.Powers)-1] }
	return []row{
		{"output power at drive", func(r Rung) string { return format.Quantity(full(r).Load, "W") }},
		{"efficiency at drive", func(r Rung) string { return format.Percent(full(r).Efficiency, 3) }},
		{"device heat at drive", func(r Rung) string { return format.Quantity(full(r).Dissipation(), "W") }},
		{"maximum device heat", func(r Rung) string {
			maximum := 0.0
			for _, p := range r.Powers {
				maximum = max(maximum, p.Dissipation())
			}
			return format.Quantity(maximum, "W")
		}},
		{"class at drive", func(r Rung) string { return string(full(r).Class) }},
		{"settled at rest", func(r Rung) string { return settledCell(r.Rest) }},
		{"settled at drive", func(r Rung) string { return settledCell(r.Full) }},
		{"hottest device at drive", func(r Rung) string { return format.Quantity(r.Limits.Line.Heat, "W") }},
		{"the same, load of 45°", func(r Rung) string {
			if r.Limits.Angle == nil {
				return "–"
			}
			return format.Quantity(r.Limits.Angle.Heat, "W")
		}},
		{"current while warming up, at most", drifted(func(_, peak, _, _, _ float64) float64 { return peak })},
		{"in a loud passage, at most", drifted(func(_, _, _, loud, _ float64) float64 { return loud })},
		{"in the quiet after it, at least", drifted(func(_, _, _, _, quiet float64) float64 { return quiet })},
		{"square and 15 kHz sine", func(r Rung) string { return transientLines(&r)[0][1] }},
		{"19 and 20 kHz", func(r Rung) string { return transientLines(&r)[10][1] }},
	}
}

// drifted is a cell with one of the currents of the drift.
func drifted(pick func(cold, peak, settled, loud, quiet float64) float64) func(Rung) string {
	return func(r Rung) string { return format.Quantity(pick(r.Limits.currents()), "A") }
}

// limitRows are those of parts that not every stage has.
func (look *Inspection) limitRows() []row {
	var rows []row
	if _, ok := look.Rungs[0].Biased().Stage().SafeArea(); ok {
		rows = append(rows,
			row{"safe area used, resistor", func(r Rung) string { return format.Percent(r.Limits.Line.Worst.Use, 3) }},
			row{"safe area used, load of 45°", func(r Rung) string {
				if r.Limits.Angle == nil {
					return "–"
				}
				return format.Percent(r.Limits.Angle.Worst.Use, 3)
			}})
	}
	if look.Spec.PowerSupply.Fitted {
		for i, rail := range look.Rungs[0].Limits.Rails {
			rows = append(rows,
				row{rail.Name + " at drive", func(r Rung) string { return format.Digits(r.Limits.Rails[i].Mean, 4, "V") }},
				row{rail.Name + " ripple at drive", func(r Rung) string { return format.Quantity(r.Limits.Rails[i].Ripple, "V") }})
		}
		rows = append(rows, row{"hum at rest (peak to peak)", func(r Rung) string { return format.Quantity(r.Limits.Hum.Output, "V") }})
	}
	return rows
}

// settledCell writes the hottest junction and what the quiescent current drifts to.
func settledCell(t bias.Thermal) string {
	if t.Verdict != stage.Settles {
		return string(t.Verdict)
	}
	return format.Fixed(t.Junction-device.ZeroCelsius, 1) + " °C, " + format.Quantity(t.Quiescent, "A")
}

func (look *Inspection) supplyRow(i int) row {
	return row{look.Rungs[0].Point.Supplies[i].Name, func(r Rung) string {
		rail := r.Point.Supplies[i]
		return format.Digits(rail.Volts, 4, "V") + ", " + format.Quantity(rail.Current, "A")
	}}
}

// deviceRows are the lines of one device, by the trade's names for its kind; a
// setting that replaces the device (an ideal bias source in place of bias diodes)
// leaves them out.
func deviceRows(device network.Operation) []row {
	line := func(what, unit string, value func(network.Operation) float64) row {
		return row{device.Name + " " + what, func(r Rung) string {
			for _, d := range r.Point.Devices {
				if d.Name == device.Name {
					return format.Digits(value(d), 4, unit)
				}
			}
			return "–"
		}}
	}
	current, controlCurrent, control, main := device.Kind.Terms()
	rows := []row{
		line(current, "A", func(d network.Operation) float64 { return d.Current }),
		line(main, "V", func(d network.Operation) float64 { return d.Main }),
		line("heat", "W", func(d network.Operation) float64 { return d.Dissipation }),
	}
	if control != "" {
		rows = append(rows,
			line(control, "V", func(d network.Operation) float64 { return d.Control }),
			line(controlCurrent, "A", func(d network.Operation) float64 { return d.ControlCurrent }))
	}
	return rows
}
