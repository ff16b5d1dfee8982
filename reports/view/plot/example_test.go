package plot_test

import (
	"fmt"
	"strings"

	"quietcross/reports/view/plot"
)

// Labelled ticks follow the 1-2-5 series where there is room for it.
func ExampleAxis_Ticks() {
	axis := plot.Axis{Label: "frequency", Unit: "Hz", SI: true, Log: true, Lo: 20, Hi: 2000}
	for _, tick := range axis.Ticks(300, 40) {
		if tick.Label != "" {
			fmt.Print(tick.Label, " ")
		}
	}
	fmt.Println()
	// Output: 20 50 100 200 500 1k 2k
}

// A figure is text; a label cannot inject markup.
func ExampleFigure_SVG() {
	f := plot.Figure{
		Name: "demo", Title: "A line",
		X:      plot.Axis{Label: "input", Unit: "V", SI: true, Lo: -0.05, Hi: 0.05},
		Y:      plot.Axis{Label: "gain", Lo: 0, Hi: 1},
		Traces: []plot.Trace{{Label: "<b>", X: []float64{-0.05, 0.05}, Y: []float64{0.2, 0.9}}},
	}
	svg := f.SVG()
	fmt.Println(strings.Contains(svg, "<b>"), strings.Contains(svg, "&lt;b&gt;"), strings.Contains(svg, "input (mV)"))
	// Output: false true true
}
