package sweep

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
)

// csvColumns are those before the columns of each frequency and harmonic.
var csvColumns = []string{
	"setting", "value", "bias_v", "quiescent_a", "level_db", "in_v", "out_v", "power_w", "dc_v", "clipped",
	"thd", "order_weighted", "modulation_2", "modulation_3", "difference_2", "difference_3",
	"gain_at_zero", "gain_at_high", "gain_at_low", "minimum_gain", "gm",
}

// WriteCSV writes one line a bias and level; ratios of amplitudes as numbers, all
// else in SI base units. A metric that the law does not have is empty.
func (r *Result) WriteCSV(w io.Writer) error {
	out := csv.NewWriter(w)
	header := append([]string(nil), csvColumns...)
	for _, f := range r.Grid.Frequencies {
		header = append(header, fmt.Sprintf("thd_n_%shz", number(f)))
	}
	for n := range harmonicColumns {
		header = append(header, fmt.Sprintf("h%d", n+2))
	}
	if err := out.Write(header); err != nil {
		return err
	}
	for i := range r.Grid.Curves {
		c := &r.Grid.Curves[i]
		for k := range c.Points {
			if err := out.Write(csvRow(c, &c.Points[k])); err != nil {
				return err
			}
		}
	}
	out.Flush()
	return out.Error()
}

// harmonicColumns is how many orders from the second are written.
const harmonicColumns = 19

func csvRow(c *Curve, p *Point) []string {
	gm := ""
	if p.Gm != nil {
		gm = number(*p.Gm)
	}
	row := []string{
		c.Rung.Setting, number(c.Rung.Value), number(c.Rung.Bias), number(c.Rung.Quiescent),
		number(float64(p.Level)), number(p.Input), number(p.Output), number(p.Power), number(p.Offset), strconv.FormatBool(p.Clipped),
		number(p.THD), number(p.OrderWeighted), number(p.Modulation2), number(p.Modulation3), number(p.Difference2), number(p.Difference3),
		number(p.GainAtZero), number(p.GainAtHigh), number(p.GainAtLow), number(p.MinimumGain), gm,
	}
	for _, v := range p.InBand {
		row = append(row, number(v))
	}
	for n := range harmonicColumns {
		row = append(row, number(p.Harmonics[n]))
	}
	return row
}

func number(v float64) string { return strconv.FormatFloat(v, 'g', 9, 64) }
