package server

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"
)

// csvHeader names the columns of [Results.WriteCSV]. Units are SI or as named.
var csvHeader = []string{
	"set_hash", "material", "version", "listener", "name", "method", "trial", "kind", "position", "role",
	"target_dB", "quiescent_A", "bias_V", "residual_dB", "gain_dB", "order", "odd", "choice", "right", "grade",
	"started", "answered", "device", "spl_dBA", "clip_rate_Hz", "played_rate_Hz", "device_rate_Hz", "browser",
}

// WriteCSV writes every answered trial as one row, a graded round as one row for
// each graded item. Texts that listeners typed cannot become formulas of a
// spreadsheet.
func (r *Results) WriteCSV(w io.Writer) error {
	c := csv.NewWriter(w)
	c.Write(csvHeader) // errors are kept until Flush
	for i := range r.Materials {
		for j := range r.Materials[i].Listeners {
			l := &r.Materials[i].Listeners[j]
			for k := range l.Trials {
				writeTrial(c, l.Session, &l.Trials[k])
			}
		}
	}
	c.Flush()
	if err := c.Error(); err != nil {
		return fmt.Errorf("panel: CSV: %w", err)
	}
	return nil
}

func writeTrial(c *csv.Writer, v *Session, t *Trial) {
	if t.Kind != GradedKind {
		c.Write(row(v, t, nil))
		return
	}
	for i := range t.Items {
		if t.Items[i].Grade != nil {
			c.Write(row(v, t, &t.Items[i]))
		}
	}
}

func row(v *Session, t *Trial, item *Item) []string {
	rung, position, role, right, grade := t.Rung, "", "", strconv.FormatBool(t.Right()), ""
	odd, choice, order := strconv.Itoa(t.Odd), strconv.Itoa(t.Choice), presented(t)
	if item != nil {
		rung, position, role = item.Rung, strconv.Itoa(item.Position), string(item.Role)
		grade, right, odd, choice, order = number(*item.Grade), "", "", "", ""
	}
	spl := ""
	if v.SPL != nil {
		spl = number(*v.SPL)
	}
	target := number(t.Target)
	conditions := []string{number(rung.Quiescent), number(rung.Bias), number(float64(rung.Residual)), number(float64(rung.Gain))}
	if rung == (Rung{}) { // a reference
		target, conditions = "", make([]string, 4)
	}
	out := []string{
		v.SetHash, safe(v.Material), v.Version, v.Code, safe(v.Name), string(v.Settings.Method),
		strconv.Itoa(t.Number), string(t.Kind), position, role, target,
	}
	out = append(out, conditions...)
	return append(out, order, odd, choice, right, grade,
		t.Started.UTC().Format(time.RFC3339Nano), t.Answered.UTC().Format(time.RFC3339Nano),
		safe(v.Device), spl, strconv.Itoa(v.ClipRate), strconv.Itoa(v.PlayedRate), strconv.Itoa(v.DeviceRate), safe(v.Browser))
}

// presented spells the roles of the intervals in their order.
func presented(t *Trial) string {
	roles := make([]string, len(t.Items))
	for i, item := range t.Items {
		roles[i] = string(item.Role)
	}
	return strings.Join(roles, " ")
}

func number(x float64) string { return strconv.FormatFloat(x, 'g', -1, 64) }

// safe keeps a typed text from being read as a formula.
func safe(text string) string {
	if text != "" && strings.ContainsRune("=+-@", rune(text[0])) {
		return "'" + text
	}
	return text
}
