package inspect

import (
	"fmt"
	"io"
	"math"
	"strings"

	"quietcross/reports/view/plot"
)

// WriteSVG writes the picture: the incremental gain around the crossover, one
// trace a setting.
func (look *Inspection) WriteSVG(w io.Writer) error {
	alone := look.picture()
	alone.Width, alone.Height = 720, 420
	_, err := io.WriteString(w, alone.Document())
	return err
}

func (look *Inspection) picture() *plot.Figure {
	first := look.Rungs[0].Near
	figure := &plot.Figure{
		Name:  "gain",
		Title: fmt.Sprintf("Incremental gain around the crossover: %s", look.Spec.Name),
		Desc:  "The slope of the transfer curve against the input voltage; a dip is what crossover distortion comes from.",
		X:     plot.Axis{Label: "input", Unit: "V", SI: true, Lo: first[0].In, Hi: first[len(first)-1].In},
		Y:     plot.Axis{Label: "incremental gain"},
	}
	figure.Y.Lo, figure.Y.Hi = look.gainScale()
	if look.Inverts {
		figure.Y.Label += ", less its sign"
	}
	for i, rung := range look.Rungs {
		trace := plot.Trace{Label: rung.Label, Look: plot.Look{Index: i}}
		if figure.Y.Lo > 0 && look.gaps(&rung) {
			trace.Label += ", cut"
		}
		for _, sample := range rung.Near {
			trace.X = append(trace.X, sample.In)
			trace.Y = append(trace.Y, look.upright(sample.Gain))
		}
		figure.Traces = append(figure.Traces, trace)
	}
	return figure
}

// upright returns a gain as it is drawn: that of a stage that inverts without its
// sign.
func (look *Inspection) upright(gain float64) float64 {
	if look.Inverts {
		return -gain
	}
	return gain
}

// A setting gaps where its gain falls under this part of its maximum: an unbiased stage,
// beside which biased ones would lie on each other.
const gapsUnder = 0.5

// clearOf is the part of the clipping onset up to which a gain is that of the crossover, and
// flattest the least that the axis of the gain spans, relative to the gain.
const (
	clearOf  = 0.8
	flattest = 0.004
)

// gains returns the ends of a setting's gain around the crossover, clear of clipping.
func (look *Inspection) gains(r *Rung) (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	edge := clearOf * min(-r.ClipLow, r.ClipHigh)
	for _, sample := range r.Near {
		if math.Abs(sample.In) <= edge {
			lo, hi = min(lo, look.upright(sample.Gain)), max(hi, look.upright(sample.Gain))
		}
	}
	return lo, hi
}

// gaps reports whether a setting has next to no gain somewhere.
func (look *Inspection) gaps(r *Rung) bool {
	lo, hi := look.gains(r)
	return lo < gapsUnder*hi
}

// gainScale returns the ends of the gain axis: a little beyond the gains of the settings
// that have no gap, or from 0 where all have one.
func (look *Inspection) gainScale() (lo, hi float64) {
	lo, hi = math.Inf(1), math.Inf(-1)
	highest := 0.0
	for i := range look.Rungs {
		low, high := look.gains(&look.Rungs[i])
		highest = max(highest, high)
		if !look.gaps(&look.Rungs[i]) {
			lo, hi = min(lo, low), max(hi, high)
		}
	}
	switch {
	case !(highest > 0):
		return 0, 1
	case !(hi > 0):
		return 0, 1.08 * highest
	}
	room := 0.15 * max(hi-lo, flattest*hi)
	return max(lo-room, 0), hi + room
}

// cutNote says which settings leave the drawing of the gain.
func (look *Inspection) cutNote() string {
	if lo, _ := look.gainScale(); lo == 0 {
		return ""
	}
	var note strings.Builder
	for i := range look.Rungs {
		if r := &look.Rungs[i]; look.gaps(r) {
			low, _ := look.gains(r)
			note.WriteString(" " + r.Label + " is cut by the scale, which is that of the biased settings: its gain falls to " + gain(low) + ".")
		}
	}
	return note.String()
}
