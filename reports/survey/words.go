package survey

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"quietcross/reports/view/format"
)

// Limits say, in words, what a survey is worth. They go with every result.
var Limits = []string{
	"Clean means not predicted to be heard: by a model of hearing, under the stated conditions. A blind test is the judge.",
	"Intervals are those of drawing other recordings like these: they do not hold the spread between listeners, nor the error of the model.",
	"A stretch of current in which distortion comes back can be missed where it is narrower than the spacing of the currents searched.",
}

// sentence says what keeps nine tenths of the library clean, and who is left.
func (r *Result) sentence(d *Distribution) string {
	c := d.Currents[slices.Index(parts, 0.9)]
	library := fmt.Sprintf("%s of %s recordings clean", format.Percent(c.Part, 2), format.Count(int64(d.Recordings)))
	switch {
	case c.Quiescent == nil:
		best := slices.MaxFunc(d.Shares, func(a, b Share) int { return compareShares(a, b) })
		return fmt.Sprintf("%s: no current up to %s keeps %s; %s keeps %s", d.Stage, format.Quantity(d.Shares[len(d.Shares)-1].Quiescent, "A"), library,
			format.Quantity(best.Quiescent, "A"), percent(best.Share))
	case c.AtMinimum:
		return fmt.Sprintf("%s: %s, the minimum searched, already keeps %s", d.Stage, format.Quantity(*c.Quiescent, "A"), library)
	}
	return fmt.Sprintf("%s: %s keeps %s (95 %% interval %s)", d.Stage, format.Quantity(*c.Quiescent, "A"), library, c.interval())
}

// interval writes between which currents a part of the library lies.
func (c *Current) interval() string {
	switch {
	case c.Low == nil:
		return "not bounded"
	case c.High == nil:
		return "from " + amperes(*c.Low) + ", no upper bound"
	}
	return amperes(*c.Low) + " to " + amperes(*c.High)
}

// printable is a file's name as a terminal and a page may show it.
func printable(name string) string {
	if strings.ContainsFunc(name, func(r rune) bool { return !unicode.IsPrint(r) }) {
		return strconv.Quote(name)
	}
	return name
}

// compareShares orders by share, and of equal ones the lower current last.
func compareShares(a, b Share) int {
	switch {
	case a.Share < b.Share || a.Share == b.Share && a.Quiescent > b.Quiescent:
		return -1
	case a == b:
		return 0
	}
	return 1
}

// percent writes a share to a tenth of a percent.
func percent(share float64) string { return format.Fixed(100*share, 1) + "\u00a0%" }

// percents writes an interval of shares.
func percents(i Interval) string {
	return format.Fixed(100*i.Low, 1) + " to " + percent(i.High)
}

// conditions says what a survey was made under.
func (h *Head) conditions() string {
	volume := fmt.Sprintf("volume set once, %s re the drive", format.DB(h.Level))
	if h.Volume == VolumeTurnedUp {
		volume = fmt.Sprintf("volume turned up for each recording to %s, or until its peak reaches the drive", format.Decibels(h.Loudness, "LUFS"))
	}
	return fmt.Sprintf("%s; %s; excerpts of %s (%s); heard means noticed with a probability above %s",
		h.Heard, volume, format.Duration(h.Length), kindsInWords(h.Excerpts), format.Percent(h.Limit, 2))
}

func kindsInWords(kinds []Kind) string {
	names := make([]string, len(kinds))
	for i, k := range kinds {
		names[i] = string(k)
	}
	return strings.Join(names, ", ")
}

// warn adds the sentences about the whole.
func (r *Result) warn() {
	count := func(n int, what string) {
		if n > 0 {
			r.Warnings = append(r.Warnings, fmt.Sprintf(what, format.Count(int64(n))))
		}
	}
	limited, failed, odd := 0, 0, 0
	for i := range r.Recordings {
		rec := &r.Recordings[i]
		if len(rec.Warnings) > 0 {
			odd++
		}
		o := slices.Concat(outcomes(rec)...)
		if slices.ContainsFunc(o, func(o Outcome) bool { return o.Limited }) {
			limited++
		}
		if slices.ContainsFunc(o, func(o Outcome) bool { return o.Failures > 0 }) {
			failed++
		}
	}
	count(len(r.Missing), "Missing: %s of the library's recordings, which no part has finished.")
	count(len(r.Refused), "Not surveyed: %s of the library's files; they are listed with the reason.")
	count(odd, "Odd files (cut short, samples that are no numbers), surveyed as far as they go: %s.")
	count(limited, "Not turned up all the way, since their peaks would have passed the drive: %s of the recordings.")
	count(failed, "Met currents at which a stage has no operating point, and do not count as clean there: %s of the recordings.")
}

func outcomes(r *Recording) [][]Outcome {
	var all [][]Outcome
	for _, v := range r.Stages {
		all = append(all, v.Outcomes)
	}
	return all
}
