package sweep

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
)

// csvColumns are those before the columns of each frequency and harmonic.
var csvColumns = []string{
	"setting", "value", "bias_v", "quiescent_a", "level_db", "in_v", "clipped",
	"modulation_2", "modulation_3", "difference_2", "difference_3",
	"gain_at_zero", "gain_at_high", "gain_at_low", "minimum_gain", "gm",
}

// WriteCSV writes one line a bias and level; ratios of amplitudes as numbers, all
// else in SI base units. A metric that the law does not have is empty.
func (r *Result) WriteCSV(w io.Writer) error {
	out := csv.NewWriter(w)
	header := append([]string(nil), csvColumns...)
	for _, f := range r.Grid.Frequencies {
		for _, name := range toneColumns {
			header = append(header, fmt.Sprintf("%s_%shz", name, number(f)))
		}
		for n := range harmonicColumns {
			header = append(header, fmt.Sprintf("h%d_%shz", n+2, number(f)))
		}
	}
	if err := out.Write(header); err != nil {
		return err
	}
	for i := range r.Grid.Curves {
		c := &r.Grid.Curves[i]
		for k := range c.Points {
			if err := out.Write(r.csvRow(c, &c.Points[k])); err != nil {
				return err
			}
		}
	}
	out.Flush()
	return out.Error()
}

// toneColumns are those of each frequency before its harmonics.
var toneColumns = []string{"out_v", "power_w", "dc_v", "thd", "thd_n", "order_weighted"}

// harmonicColumns is how many orders from the second are written.
const harmonicColumns = 19

func (r *Result) csvRow(c *Curve, p *Point) []string {
	gm := ""
	if p.Gm != nil {
		gm = number(*p.Gm)
	}
	row := []string{
		c.Rung.Setting, number(c.Rung.Value), number(c.Rung.Bias), number(c.Rung.Quiescent),
		number(float64(p.Level)), number(p.Input), strconv.FormatBool(p.Clipped),
		number(p.Modulation2), number(p.Modulation3), number(p.Difference2), number(p.Difference3),
		number(p.GainAtZero), number(p.GainAtHigh), number(p.GainAtLow), number(p.MinimumGain), gm,
	}
	for i := range p.Tones {
		t := &p.Tones[i]
		row = append(row, number(t.Output), number(r.Grid.power(t)), number(t.Offset), number(t.THD), number(t.InBand), number(t.OrderWeighted))
		for n := range harmonicColumns {
			row = append(row, number(t.Harmonics[n]))
		}
	}
	return row
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', 9, 64) }
