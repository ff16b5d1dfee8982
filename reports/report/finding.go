package report

import (
	"fmt"
	"math"
	"strings"

	"quietcross/dsp/level"
	"quietcross/reports/view/format"
	"quietcross/stage"
)

// find writes the finding of every rendering of an item.
func (r *Report) find(item *Item) {
	minimum := minimumResidual(item)
	for i := range item.Renderings {
		rendering := &item.Renderings[i]
		text := r.describe(r.Rungs[i]) + "; " + outcome(item, rendering)
		if i == minimum && len(item.Renderings) > 1 {
			text += ", the minimum of this ladder"
		}
		rendering.Finding = text + "." + flaws(rendering)
	}
}

// minimumResidual returns the rendering with the lowest residual, -1 when several
// share it within a tenth of a decibel or there is none.
func minimumResidual(item *Item) int {
	index, minimum, next := -1, math.Inf(1), math.Inf(1)
	for i, r := range item.Renderings {
		switch v := float64(r.Residual.Level); {
		case !passes(r.Rendering):
		case v < minimum:
			index, minimum, next = i, v, minimum
		case v < next:
			next = v
		}
	}
	if next-minimum < 0.1 {
		return -1
	}
	return index
}

// describe says what the rung is, without a full stop.
func (r *Report) describe(rung Rung) string {
	rest := "a resting current of " + format.Quantity(rung.Quiescent, "A")
	gain := "; " + r.gainText(rung)
	var text string
	switch rung.Condition {
	case stage.Unbiased:
		text = "Without bias the devices rest at " + format.Quantity(rung.Quiescent, "A") + " and leave a crossover region " +
			format.Quantity(rung.CrossoverWidth, "V") + " wide"
	case stage.Under, stage.Over:
		text = upperFirst(string(rung.Condition)) + ": " + rest + r.share(rung) + gain
	case stage.Clipped:
		text = "Clips below the drive: " + rest + r.share(rung)
	case stage.AtOptimum:
		text = "At the optimum: " + rest + gain
	default:
		text = upperFirst(rest) + gain
	}
	if rung.Setting == "as-built" {
		text = "As built, " + lowerFirst(text)
	}
	return text
}

// share compares the resting current with the optimum one.
func (r *Report) share(rung Rung) string {
	if r.Optimum <= 0 {
		return ""
	}
	return ", " + format.Number(rung.Quiescent/r.Optimum, 2) + " times the optimum"
}

// gainText says how the gain at rest compares with that at full swing, or just
// what it is when full drive clips.
func (r *Report) gainText(rung Rung) string {
	text := "the gain at rest is "
	if r.clips(rung) || rung.GainAtSwing == 0 {
		return text + format.Number(rung.GainAtZero, 3) + ", and full drive clips"
	}
	change := rung.GainAtZero/rung.GainAtSwing - 1
	switch {
	case math.Abs(change) < 5e-5:
		return text + "the same as at full swing"
	case change < 0:
		return text + format.Percent(-change, 2) + " less than at full swing"
	default:
		return text + format.Percent(change, 2) + " more than at full swing"
	}
}

// clips tells that the drive goes beyond the onset of clipping.
func (r *Report) clips(rung Rung) bool {
	return rung.ClipLow < rung.ClipHigh && (r.Drive > rung.ClipHigh || -r.Drive < rung.ClipLow)
}

// outcome says what came of it for this item, without a full stop.
func outcome(item *Item, r *Rendering) string {
	below := item.Noun()
	switch {
	case r.RMS == silence:
		return "nothing of " + below + " comes through"
	case !passes(r.Rendering):
		return "next to nothing of " + below + " comes through"
	case r.Residual.Level == silence:
		return "what it adds to " + below + " is less than the file can hold"
	case math.IsNaN(float64(r.Residual.Level)):
		return "what it adds to " + below + " could not be measured"
	}
	text := "what it adds lies " + distanceBelow(r.Residual.Level, below)
	if r.Harmonics != nil {
		text += " (THD " + THD(r.Harmonics) + ")"
	}
	if math.Abs(r.Gain) < 0.5 {
		text += ", and only " + format.Percent(math.Abs(r.Gain), 2) + " of the level gets through"
	}
	return text
}

// THD words the distortion of a tone: a figure near what noise alone reads is
// only an upper bound.
func THD(h *Harmonics) string {
	if h.buried() {
		return "under " + format.Percent(2*h.Floor, 2)
	}
	return format.Percent(h.THD, 3)
}

// buried tells that a tone's distortion is hardly more than what noise alone reads.
func (h *Harmonics) buried() bool { return h.THD < 2*h.Floor }

func distanceBelow(l level.DB, programme string) string {
	if l > 0 {
		return format.Distance(l) + " above " + programme
	}
	return format.Distance(l) + " below " + programme
}

// flaws appends what else has to be known about a rendering.
func flaws(r *Rendering) string {
	text := ""
	if r.Clipped > 0 {
		text += fmt.Sprintf(" %s samples of the file are clipped.", format.Count(r.Clipped))
	}
	switch {
	case r.Inverted:
		text += " The stage inverts; the file's polarity is turned back."
	case r.Gain < -minimumGain: // unmatched
		text += " The stage inverts, and so does the file."
	}
	if r.OutOfRange > 0 {
		text += " The input exceeds what the stage was solved for."
	}
	return text
}

func lowerFirst(s string) string { return strings.ToLower(s[:1]) + s[1:] }

func upperFirst(s string) string { return strings.ToUpper(s[:1]) + s[1:] }
