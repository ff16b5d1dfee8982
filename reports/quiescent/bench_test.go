package quiescent

import (
	"fmt"
	"testing"

	"quietcross/corpus/render"
	"quietcross/corpus/signal"
	"quietcross/stage"
)

// BenchmarkRun works stages out on the four pieces that the command listens to when none is
// named: two that a law serves, and one in a loop, which is rendered in time.
func BenchmarkRun(b *testing.B) {
	for _, name := range []string{"pair-12w", "pair-12w-multiplier", "pair-12w-feedback"} {
		b.Run(name, func(b *testing.B) {
			spec, err := stage.Lookup(name)
			if err != nil {
				b.Fatal(err)
			}
			o := DefaultOptions(spec)
			for _, piece := range []string{"quiet-chord", "soft-wind", "struck-string", "soft-speech"} {
				m, err := signal.Lookup(piece)
				if err != nil {
					b.Fatal(err)
				}
				o.Sources = append(o.Sources, render.Material{Material: m, Rate: 48000, Seed: 1})
			}
			for b.Loop() {
				r, err := Run(b.Context(), o)
				if err != nil {
					b.Fatal(err)
				}
				rendered := 0
				for _, f := range r.Findings {
					rendered += len(f.Curve)
				}
				b.ReportMetric(float64(rendered), "renderings")
				fmt.Fprintln(b.Output(), name, r.Recommendation.Set, len(r.Rungs))
			}
		})
	}
}
