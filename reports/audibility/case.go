package audibility

import (
	"context"

	"quietcross/dsp/level"
)

// Case is one piece of material at one level.
type Case struct {
	// Material names the piece and Level its level, re the drive of the stage.
	Material string
	Level    level.DB
	// Open returns the reference, planar at 48 kHz with one or two channels, and
	// the function that renders it. It is called once, when the case's turn
	// comes, so that the references of many cases need not be held at once.
	Open func(ctx context.Context) (reference [][]float64, render Render, err error)
}

// Render returns a case's test signal at a quiescent current in amperes (0 for a
// stage without bias). It is called from several goroutines at once where there are
// more [Options.Workers] than cases. An error means that the stage has no such operating
// point: it is recorded and the search goes on without it.
type Render func(ctx context.Context, quiescent float64) (Rendering, error)

// Rendering is a test signal and what is known of the stage that made it.
type Rendering struct {
	// Test has the channels and length of the reference, is aligned with it in
	// time and matched to it in level.
	Test [][]float64
	// Bias is the voltage at the stage's bias point, V.
	Bias float64
	// Numbers are simple figures of this rendering by name, such as "thd",
	// "weighted-thd" and "gm", to be set against the prediction. Figures that
	// are not finite are left out.
	Numbers map[string]float64
}
