package measure

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"
)

// WriteTable writes the recordings for a terminal.
func WriteTable(w io.Writer, recordings []Recording) error {
	var b strings.Builder
	for i, r := range recordings {
		if i > 0 {
			b.WriteString("\n")
		}
		fmt.Fprintf(&b, "%s: %s\n", r.File, r.Format)
		if r.Report != nil {
			writeReport(&b, r.Report)
		}
		if r.Comparison != nil {
			writeComparison(&b, r)
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func writeReport(b *strings.Builder, r *Report) {
	warnings(b, r.Warnings)
	figures(b, r.Figures)
	for i := range r.Channels {
		writeChannel(b, &r.Channels[i], len(r.Channels) > 1)
	}
}

func writeChannel(b *strings.Builder, c *Channel, named bool) {
	b.WriteString("\n")
	if named {
		fmt.Fprintf(b, "channel %d: ", c.Index+1)
	}
	how := "found to be"
	if c.Told {
		how = "told to be"
	}
	fmt.Fprintf(b, "%s %s\n", how, c.Kind)
	warnings(b, c.Warnings)
	figures(b, c.Figures)
	if len(c.Lines) > 0 {
		b.WriteString("\n")
		t := tabwriter.NewWriter(b, 0, 0, 3, ' ', tabwriter.AlignRight)
		fmt.Fprintln(t, strings.Join(lineColumns, "\t")+"\t")
		for _, l := range c.Lines {
			fmt.Fprintln(t, strings.Join(lineCells(l), "\t")+"\t")
		}
		t.Flush()
	}
	for i := range c.Steps {
		fmt.Fprintf(b, "\nstep %d, frames %d to %d", i+1, c.Steps[i].From, c.Steps[i].To)
		writeChannel(b, &c.Steps[i], false)
	}
}

func writeComparison(b *strings.Builder, r Recording) {
	fmt.Fprintf(b, "held against %s\n", r.Reference)
	warnings(b, r.Comparison.Warnings)
	for _, c := range r.Comparison.Channels {
		b.WriteString("\n")
		if len(r.Comparison.Channels) > 1 {
			fmt.Fprintf(b, "channel %d: ", c.Index+1)
		}
		fmt.Fprintf(b, "frames %d to %d", c.From, c.To)
		if c.Inverted {
			b.WriteString(", polarity inverted")
		}
		b.WriteString("\n")
		warnings(b, c.Warnings)
		figures(b, c.Figures)
	}
}

// figures writes figures one a line with their definitions.
func figures(b *strings.Builder, list []Figure) {
	t := tabwriter.NewWriter(b, 0, 0, 3, ' ', 0)
	for _, f := range list {
		r := rowOf(f)
		fmt.Fprintf(t, "%s\t%s\t%s\t%s\n", r.title, r.value, r.uncertainty, r.definition)
	}
	t.Flush() // into memory: it cannot fail
}

func warnings(b *strings.Builder, list []string) {
	for _, w := range list {
		fmt.Fprintf(b, "warning: %s\n", w)
	}
}
