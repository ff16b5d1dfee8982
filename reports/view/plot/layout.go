package plot

import "unicode"

const (
	// Sizes that text is given room for: a page may enlarge it on a small
	// screen to 13 px.
	tickSize = 13.0 // tick labels and notes, px
	textSize = 12.0 // captions and legends, px
	xRoom    = 46.0 // minimum distance between labelled ticks, px
	logRoom  = 28.0 // the same on a logarithmic x axis, whose labels are short
	yRoom    = 30.0
	keyWidth = 26.0 // leader and sample before a legend's text, px
	keyLine  = 14.0 // distance of legend lines, px
)

// plan is where everything goes.
type plan struct {
	area           area
	xTicks, yTicks []Tick
	keysBelow      bool
}

func (f *Figure) plan(alone bool) plan {
	var p plan
	width, height := f.size()
	top := 23.0
	if alone {
		top += 20
	}
	right := f.keysWidth()
	bottom := 38.0
	if labelled := f.labelled(); float64(len(labelled))*keyLine > height-top-bottom {
		p.keysBelow = true
		right = 16
		bottom += f.rowsBelow(width) * keyLine
	}
	if f.Heat != nil {
		right = 62
	}
	p.area = area{0, top, 0, height - top - bottom}
	p.yTicks = f.Y.Ticks(p.area.h, yRoom)
	p.area.x = labelsWidth(p.yTicks) + 10
	p.area.w = width - right - p.area.x
	room := xRoom
	if f.X.Log && f.X.SI {
		room = logRoom
	}
	p.xTicks = f.X.Ticks(p.area.w, room)
	return p
}

func labelsWidth(ticks []Tick) float64 {
	widest := 0.0
	for _, t := range ticks {
		widest = max(widest, textWidth(t.Label, tickSize))
	}
	return widest
}

// textWidth estimates the width of a line of text in a common sans-serif face,
// on the wide side, for there is no font to measure.
func textWidth(text string, size float64) float64 {
	sum := 0.0
	for _, r := range text {
		switch {
		case r == 'i' || r == 'j' || r == 'l' || r == '.' || r == ',' || r == ' ' || r == '\u00a0' || r == '|' || r == '\'':
			sum += 0.34
		case r == 'm' || r == 'w' || r == 'M' || r == 'W':
			sum += 0.95
		case unicode.IsUpper(r) || r == '−' || r == '+':
			sum += 0.74
		case r < 0x2000:
			sum += 0.62
		default:
			sum += 1
		}
	}
	return sum * size
}

func (f *Figure) drawGrid(c *canvas, p plan) {
	var lines [][]point
	a := p.area
	for _, t := range p.xTicks {
		if t.Label != "" {
			x := a.x + f.X.Position(t.Value)*a.w
			lines = append(lines, []point{{x, a.y}, {x, a.y + a.h}})
		}
	}
	for _, t := range p.yTicks {
		if t.Label != "" {
			y := a.y + (1-f.Y.Position(t.Value))*a.h
			lines = append(lines, []point{{a.x, y}, {a.x + a.w, y}})
		}
	}
	if len(lines) > 0 && f.Heat == nil {
		c.Leaf("path", "class", "grid", "d", encode(lines))
	}
}

func (f *Figure) drawAxes(c *canvas, p plan) {
	a := p.area
	var minor, major [][]point
	for _, t := range p.xTicks {
		x := a.x + f.X.Position(t.Value)*a.w
		if t.Label == "" {
			minor = append(minor, []point{{x, a.y + a.h}, {x, a.y + a.h + 3}})
			continue
		}
		major = append(major, []point{{x, a.y + a.h}, {x, a.y + a.h + 5}})
		c.text(x, a.y+a.h+16, "middle", "tick", t.Label)
	}
	for _, t := range p.yTicks {
		y := a.y + (1-f.Y.Position(t.Value))*a.h
		if t.Label == "" {
			minor = append(minor, []point{{a.x - 3, y}, {a.x, y}})
			continue
		}
		major = append(major, []point{{a.x - 5, y}, {a.x, y}})
		c.text(a.x-7, y+4, "end", "tick", t.Label)
	}
	if len(minor) > 0 {
		c.Leaf("path", "class", "minor", "d", encode(minor))
	}
	major = append(major, []point{{a.x, a.y}, {a.x + a.w, a.y}, {a.x + a.w, a.y + a.h}, {a.x, a.y + a.h}, {a.x, a.y}})
	c.Leaf("path", "class", "frame", "d", encode(major))
	c.text(a.x+a.w/2, a.y+a.h+33, "middle", "caption", f.X.caption())
	c.text(max(a.x-30, 2), a.y-10, "start", "caption", f.Y.caption())
}
