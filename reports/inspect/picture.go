package inspect

import (
	"fmt"
	"io"

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
		Y:     plot.Axis{Label: "incremental gain", Lo: 0, Hi: look.maximumGain()},
	}
	if look.Inverts {
		figure.Y.Label += ", less its sign"
	}
	for i, rung := range look.Rungs {
		trace := plot.Trace{Label: rung.Label, Look: plot.Look{Index: i}}
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

// maximumGain returns the upper end of the gain axis: a little above the
// maximum gain drawn.
func (look *Inspection) maximumGain() float64 {
	maximum := 0.0
	for _, rung := range look.Rungs {
		for _, sample := range rung.Near {
			maximum = max(maximum, look.upright(sample.Gain))
		}
	}
	if maximum == 0 {
		return 1
	}
	return 1.08 * maximum
}
