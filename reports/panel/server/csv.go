package server

import (
	"cmp"
	"crypto/sha256"
	"encoding/csv"
	"encoding/hex"
	"fmt"
	"io"
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"
)

// csvHeader names the columns of [Results.WriteCSV]. Units are SI or as named.
var csvHeader = []string{
	"set_hash", "stimulus", "material", "version", "session", "session_seed", "set_seed", "listener", "name", "part", "method", "trials_planned",
	"kept", "left_out", "screening_t", "screening_p", "screening_exact_p", "finished",
	"trial", "kind", "position", "role", "target_dB", "quiescent_A", "bias_V", "residual_dB", "gain_dB", "item_seeds",
	"order", "odd", "choice", "right", "grade", "heard_s", "switches", "started", "answered",
	"device", "room", "noise_spl_dBA", "level_by", "noise_heard_s", "full_scale_spl_dB", "set_gain_dB", "clip_rate_Hz", "played_rate_Hz", "device_rate_Hz",
}

// Export says what of the listeners leaves with the results.
type Export struct {
	Names bool // names, where they were asked for
	// Anonymous replaces codes by numbers in no order of time, and leaves out the hours,
	// the room and the device.
	Anonymous bool
}

// WriteCSV writes every answered trial as one row, a graded round as one row for
// each graded item. Texts that listeners typed cannot become formulas of a
// spreadsheet.
func (r *Results) WriteCSV(w io.Writer, e Export) error {
	c := csv.NewWriter(w)
	c.Write(csvHeader) // errors are kept until Flush
	who := r.numbers()
	for i := range r.Materials {
		for j := range r.Materials[i].Listeners {
			l := &r.Materials[i].Listeners[j]
			for k := range l.Trials {
				writeTrial(c, l, &l.Trials[k], e, who)
			}
		}
	}
	c.Flush()
	if err := c.Error(); err != nil {
		return fmt.Errorf("panel: CSV: %w", err)
	}
	return nil
}

// numbers gives each code a number by a hash of it, so that the order tells nothing.
func (r *Results) numbers() map[string]string {
	hashes := map[string]string{}
	for i := range r.Materials {
		for j := range r.Materials[i].Listeners {
			v := r.Materials[i].Listeners[j].Session
			sum := sha256.Sum256([]byte(v.Token + v.Code)) // the token is in no export
			if h := hex.EncodeToString(sum[:]); hashes[v.Code] == "" || h < hashes[v.Code] {
				hashes[v.Code] = h
			}
		}
	}
	codes := slices.SortedFunc(maps.Keys(hashes), func(a, b string) int { return cmp.Compare(hashes[a], hashes[b]) })
	out := map[string]string{}
	for i, code := range codes {
		out[code] = strconv.Itoa(i + 1)
	}
	return out
}

func writeTrial(c *csv.Writer, l *ListenerResult, t *Trial, e Export, who map[string]string) {
	if !t.graded() {
		c.Write(row(l, t, nil, e, who))
		return
	}
	for i := range t.Items {
		if t.Items[i].Grade != nil {
			c.Write(row(l, t, &t.Items[i], e, who))
		}
	}
}

func row(l *ListenerResult, t *Trial, item *Item, e Export, who map[string]string) []string {
	v := l.Session
	rung, position, role, right, grade := t.Rung, "", "", strconv.FormatBool(t.Right()), ""
	odd, choice, order := strconv.Itoa(t.Odd), strconv.Itoa(t.Choice), presented(t)
	heard := seconds(t.Heard)
	if item != nil {
		rung, position, role = item.Rung, strconv.Itoa(item.Position), string(item.Role)
		grade, right, odd, choice, order = number(*item.Grade), "", "", "", ""
		if item.Position < len(t.Heard) {
			heard = number(t.Heard[item.Position])
		}
	}
	target := number(t.Target)
	conditions := []string{number(rung.Quiescent), number(rung.Bias), number(float64(rung.Residual)), number(float64(rung.Gain))}
	if rung == (Rung{}) { // a reference
		target, conditions = "", make([]string, 4)
	}
	p := personal(v, e, who)
	started, answered := t.Started.UTC().Format(time.RFC3339Nano), t.Answered.UTC().Format(time.RFC3339Nano)
	if e.Anonymous {
		started, answered = "", number(t.Answered.Sub(t.Started).Seconds())
	}
	out := []string{
		v.SetHash, v.Stimulus, safe(v.Material), v.Version, p.session, p.seed, strconv.FormatUint(v.SetSeed, 10), p.code, safe(p.name), strconv.Itoa(v.Part),
		string(v.Settings.Method), strconv.Itoa(v.Settings.Trials), strconv.FormatBool(l.Kept), l.LeftOut,
	}
	out = append(out, screening(l)...)
	out = append(out, strconv.FormatBool(!v.Finished.IsZero()), strconv.Itoa(t.Number), string(t.Kind), position, role, target)
	out = append(out, conditions...)
	out = append(out, seeds(t), order, odd, choice, right, grade, heard, strconv.Itoa(t.Switches), started, answered)
	return append(out, safe(p.device), safe(p.room), optional(v.SPL), v.Matched, number(v.NoiseHeard), optional((*float64)(v.Playback)),
		number(float64(v.Gain)), strconv.Itoa(v.ClipRate), strconv.Itoa(v.PlayedRate), strconv.Itoa(v.DeviceRate))
}

// person is what of a listener leaves with the results.
type person struct{ session, seed, code, name, device, room string }

func personal(v *Session, e Export, who map[string]string) person {
	if e.Anonymous {
		return person{session: "", seed: "", code: who[v.Code]}
	}
	p := person{session: strconv.FormatInt(v.ID, 10), seed: strconv.FormatUint(v.Seed, 10), code: v.Code, device: v.Device, room: v.Room}
	if e.Names {
		p.name = v.Name
	}
	return p
}

func screening(l *ListenerResult) []string {
	if !l.Session.Settings.Graded() {
		return []string{"", number(l.Verdict.P), ""}
	}
	return []string{number(l.Screening.T), number(l.Screening.P), number(l.Screening.Exact)}
}

func seconds(x []float64) string {
	parts := make([]string, len(x))
	for i, v := range x {
		parts[i] = strconv.FormatFloat(v, 'f', 2, 64)
	}
	return strings.Join(parts, " ")
}

// seeds are those of the dither of the items.
func seeds(t *Trial) string {
	parts := make([]string, len(t.Items))
	for i, item := range t.Items {
		parts[i] = strconv.FormatUint(item.Seed, 10)
	}
	return strings.Join(parts, " ")
}

func optional(x *float64) string {
	if x == nil {
		return ""
	}
	return number(*x)
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
