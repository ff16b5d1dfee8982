package schematic

import (
	"fmt"
	"strings"

	"quietcross/stage/drawing"
)

// glyph is the shape of an upright symbol about its middle, px: thin strokes, thick
// ones, filled shapes and outlines filled with paper.
type glyph struct {
	outline string // closed shapes
	stroke  string
	thick   string
	fill    string
}

var glyphs = map[drawing.Kind]glyph{
	drawing.Resistor:  {outline: "M-5-14H5V14H-5z", stroke: "M0-20V-14M0 14V20"},
	drawing.Capacitor: {stroke: "M0-20V-3.5M0 3.5V20", thick: "M-12-3.5H12M-12 3.5H12"},
	drawing.Inductor:  {stroke: "M0-20V-16" + strings.Repeat("a4 4 0 0 1 0 8", 4) + "V20"},
	drawing.NPN: {
		stroke: "M-30 0H-8M-8-6L10-16V-30M-8 6L10 16V30", thick: "M-8-13V13", fill: "M7.3 14.5L-1.4 13.8L2.1 7.4z",
	},
	drawing.PNP: {
		stroke: "M-30 0H-8M-8-6L10-16V-30M-8 6L10 16V30", thick: "M-8-13V13", fill: "M-3.5-8.5L5.3-9.2L1.8-15.6z",
	},
	drawing.NChannel: {
		stroke: "M-30 10H-11V-12M-5-10H10V-30M-5 10H10V30M-5 0H10V10", thick: channelBars, fill: "M-4 0L4-4V4z",
	},
	drawing.PChannel: {
		stroke: "M-30-10H-11V12M-5-10H10V-30M-5 10H10V30M-5 0H10V-10", thick: channelBars, fill: "M8 0L0-4V4z",
	},
	drawing.Loudspeaker: {outline: "M-5-9H3V9H-5zM3-9L15-14V14L3 9z", stroke: "M0-20V-9M0 9V20"},
	drawing.Amplifier: {
		outline: "M-20-22L22 0L-20 22z", stroke: "M-30-10H-20M-30 10H-20M22 0H30M-16-10h6m-3-3v6M-16 10h6",
	},
	drawing.Source:   {outline: circlePath, stroke: "M0-20V20M-12-17h6m-3-3v6"},
	drawing.Signal:   {outline: circlePath, stroke: "M0-20V-13M0 13V20M-8 0q4-10 8 0t8 0"},
	drawing.Rail:     {stroke: "M0 0V-6", thick: "M-7-6H7"},
	drawing.Ground:   {stroke: "M0 0V4M-10 4H10M-6 8.5H6M-2.5 13H2.5"},
	drawing.Terminal: {outline: "M-3 0a3 3 0 1 0 6 0a3 3 0 1 0-6 0z"},
}

const (
	// channelBars is the broken channel of an enhancement device.
	channelBars = "M-5-14V-6M-5-4V4M-5 6V14"
	circlePath  = "M-13 0a13 13 0 1 0 26 0a13 13 0 1 0-26 0z"
	envelope    = 22 // radius about a transistor, px
)

// shape returns the shape of a part: those of fixed size by kind, the others by
// what they hold.
func shape(p drawing.Part) glyph {
	switch p.Kind {
	case drawing.Diode:
		return diodes(p.Count)
	case drawing.Transformer:
		return transformer(p)
	}
	return glyphs[p.Kind]
}

// diodes is a chain of diodes, 20 px each.
func diodes(count int) glyph {
	reach := 10 * (count + 1)
	g := glyph{stroke: fmt.Sprintf("M0-%dV%d", reach, reach)}
	for k := range count {
		y := 20*k - 10*(count-1)
		g.outline += fmt.Sprintf("M-7 %dH7L0 %dz", y-6, y+6)
		g.thick += fmt.Sprintf("M-7 %dH7", y+6)
	}
	return g
}

// transformer is two windings along a core, the taps as leads, and a dot where each
// winding starts.
func transformer(p drawing.Part) glyph {
	g := glyph{thick: "M0-39V39"}
	for side, x := range []int{-1, 1} {
		sweep := (1 - x) / 2
		g.stroke += fmt.Sprintf("M%d-40H%d", 20*x, 12*x)
		g.stroke += strings.Repeat(fmt.Sprintf("a5 5 0 0 %d 0 10", sweep), 8) + fmt.Sprintf("H%d", 20*x)
		if p.Taps[side] {
			g.stroke += fmt.Sprintf("M%d 0H%d", 20*x, 12*x)
		}
		y := -33
		if p.Dots[side] == drawing.Bottom {
			y = 33
		}
		g.fill += fmt.Sprintf("M%d %da2.4 2.4 0 1 0 4.8 0a2.4 2.4 0 1 0-4.8 0z", 19*x-2, y)
	}
	return g
}

func drawSymbol(c *canvas, p drawing.Part, conducts bool) {
	transform := "translate(" + num(unit*float64(p.At.X)) + " " + num(unit*float64(p.At.Y)) + ")"
	if p.Turn != 0 {
		transform += fmt.Sprintf(" rotate(%d)", 90*p.Turn)
	}
	if p.Flip {
		transform += " scale(1 -1)"
	}
	class := "symbol"
	if conducts {
		class += " conducts"
	}
	c.Open("g", "class", class, "transform", transform)
	switch p.Kind {
	case drawing.NPN, drawing.PNP, drawing.NChannel, drawing.PChannel:
		c.Leaf("circle", "class", "body", "r", fmt.Sprint(envelope))
	}
	g := shape(p)
	for _, s := range []struct{ class, path string }{
		{"body", g.outline}, {"stroke", g.stroke}, {"thick", g.thick}, {"fill", g.fill},
	} {
		if s.path != "" {
			c.Leaf("path", "class", s.class, "d", s.path)
		}
	}
	c.Close("g")
}

// drawArrow marks the direction of a device's current on the lead where it
// enters: positive currents run from the supply's side to the other.
func drawArrow(c *canvas, p drawing.Part) {
	var pin drawing.Point
	switch p.Kind {
	case drawing.NPN:
		pin = p.Pin("collector")
	case drawing.NChannel:
		pin = p.Pin("drain")
	case drawing.PNP:
		pin = p.Pin("emitter")
	case drawing.PChannel:
		pin = p.Pin("source")
	default:
		return
	}
	x, y := unit*float64(pin.X), unit*float64(pin.Y)
	inward := 1.0
	if pin.Y > p.At.Y {
		inward = -1
	}
	c.Leaf("path", "class", "arrow", "d", "M"+num(x)+" "+num(y+9.5*inward)+"l-4 "+num(-10*inward)+"h8z")
}
