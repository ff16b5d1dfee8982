package main

import (
	"fmt"
	"io"
	"time"

	"github.com/urfave/cli/v2"
)

// A progressLine shows the share of long work that is done on one line of a
// terminal, and nothing anywhere else.
type progressLine struct {
	w     io.Writer
	what  string
	start time.Time
	last  time.Time
	shown bool
}

// newProgressLine returns a progress line on stderr, or nil when that is not a
// terminal; a nil line ignores all calls.
func newProgressLine(c *cli.Context, what string) *progressLine {
	if terminal, _ := c.App.Metadata[terminalKey].(bool); !terminal {
		return nil
	}
	return &progressLine{w: c.App.ErrWriter, what: what, start: time.Now()}
}

// redrawEvery bounds how often the line is drawn.
const redrawEvery = 100 * time.Millisecond

// report draws the line for share, 0 to 1.
func (p *progressLine) report(share float64) {
	now := time.Now()
	if p == nil || now.Sub(p.last) < redrawEvery {
		return
	}
	p.last, p.shown = now, true
	left := ""
	if spent := now.Sub(p.start); share > 0.05 && spent > time.Second {
		remaining := time.Duration(float64(spent) * (1 - share) / share)
		left = fmt.Sprintf(", %v left", remaining.Round(time.Second))
	}
	fmt.Fprintf(p.w, "\r\033[K%s: %3.0f %%%s", p.what, 100*share, left)
}

// done removes the line.
func (p *progressLine) done() {
	if p != nil && p.shown {
		fmt.Fprint(p.w, "\r\033[K")
	}
}
