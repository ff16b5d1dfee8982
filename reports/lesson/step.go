package lesson

import (
	"html/template"

	"quietcross/dsp/level"
)

// A step is one screen of the lesson: a text, sounds, a figure that moves with them or a
// graph that does not, and a drawing.
type step struct {
	number   int
	id       string
	title    string
	text     []string
	sounds   []sound
	first    int    // the sound that is chosen at first
	slider   bool   // the bias of the chosen sound can be moved
	figure   string // that is shown first: time, transfer, currents, gain or graph
	graph    template.HTML
	table    *table
	drawing  *state // nil: that of the chosen sound
	ways     bool
	level    level.DB // of the sine that the figures show at rest
	question string
	answer   string
}

// A table compares a few stages or currents.
type table struct {
	Head []string
	Rows [][]string
}

// The four figures that move.
const (
	figureTime     = "time"
	figureTransfer = "transfer"
	figureCurrents = "currents"
	figureGain     = "gain"
	figureGraph    = "graph"
)
