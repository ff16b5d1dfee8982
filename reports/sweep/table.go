package sweep

import (
	"fmt"
	"io"
	"strings"
	"text/tabwriter"

	"quietcross/reports/view/format"
)

// WriteTable writes the sweep for a terminal: a table a measure, one line a level,
// one column a bias.
func (r *Result) WriteTable(w io.Writer) error {
	var b strings.Builder
	fmt.Fprintf(&b, "%s: %s\nlevel 0 dB is %s peak at the input; the load is %s\n",
		r.Grid.Stage, r.Title, format.Digits(r.Grid.Drive, 4, "V"), format.Quantity(r.Grid.Load, "Ω"))
	for _, c := range r.Grid.Curves {
		if c.Refusal != "" {
			fmt.Fprintf(&b, "no curve at %s: %s\n", c.Label, c.Refusal)
		}
	}
	for _, k := range r.thdPlaces() {
		r.matrix(&b, "THD, all orders, re the fundamental"+r.at(k), func(p *Point) string { return percent(p.Tones[k].THD) })
	}
	for k, f := range r.Grid.Frequencies {
		title := fmt.Sprintf("THD+N without noise at %s, harmonics to 20 kHz", format.Quantity(f, "Hz"))
		r.matrix(&b, title, func(p *Point) string { return percent(p.Tones[k].InBand) })
	}
	r.matrix(&b, "modulation distortion 4:1, third order", func(p *Point) string { return percent(p.Modulation3) })
	r.matrix(&b, "difference-frequency distortion, third order", func(p *Point) string { return percent(p.Difference3) })
	r.matrix(&b, "minimum incremental gain over the swing, V/V", func(p *Point) string { return format.Fixed(p.MinimumGain, 4) })
	for _, line := range r.limits() {
		fmt.Fprintf(&b, "\n%s\n", line)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

// thdPlaces are the frequencies whose THD differs: all of them of a circuit with
// memory, else one.
func (r *Result) thdPlaces() []int {
	if !r.Memory {
		return []int{r.Grid.reference()}
	}
	places := make([]int, len(r.Grid.Frequencies))
	for i := range places {
		places[i] = i
	}
	return places
}

// at names a frequency where THD depends on it.
func (r *Result) at(k int) string {
	if !r.Memory {
		return ""
	}
	return " at " + format.Quantity(r.Grid.Frequencies[k], "Hz")
}

// percent writes a ratio; below what double precision resolves beside the
// fundamental it is 0.
func percent(ratio float64) string {
	const rounding = 1e-11
	if ratio < rounding {
		ratio = 0
	}
	return format.Percent(ratio, 3)
}

// matrix writes one measure.
func (r *Result) matrix(b *strings.Builder, title string, cell func(*Point) string) {
	fmt.Fprintf(b, "\n%s\n", title)
	t := tabwriter.NewWriter(b, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprint(t, "level\t")
	for i := range r.Grid.Curves {
		if c := &r.Grid.Curves[i]; c.Refusal == "" {
			fmt.Fprintf(t, "%s\t", label(c))
		}
	}
	fmt.Fprintln(t)
	for k, l := range r.Grid.Levels {
		fmt.Fprintf(t, "%s\t", format.DB(l))
		for _, c := range r.Grid.Curves {
			if c.Refusal == "" {
				fmt.Fprintf(t, "%s\t", cell(&c.Points[k]))
			}
		}
		fmt.Fprintln(t)
	}
	t.Flush()
}
