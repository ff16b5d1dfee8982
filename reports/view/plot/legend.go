package plot

import (
	"cmp"
	"math"
	"slices"
)

// key is one entry of the legend.
type key struct {
	trace *Trace
	want  float64 // y of the trace's end, px from the area's top
	y     float64 // y of the label
}

func (f *Figure) labelled() []*Trace {
	var list []*Trace
	for i := range f.Traces {
		if f.Traces[i].Label != "" {
			list = append(list, &f.Traces[i])
		}
	}
	return list
}

// keysWidth is the margin that the labels beside the traces take, px: at most two
// fifths of the figure.
func (f *Figure) keysWidth() float64 {
	widest := 0.0
	for _, t := range f.labelled() {
		widest = max(widest, keyWidth+textWidth(t.Label, textSize)+4)
	}
	width, _ := f.size()
	return min(max(widest, 16), 0.4*width)
}

// keyText is the label of a trace, cut to the width that labels have.
func (f *Figure) keyText(t *Trace) string {
	return shorten(t.Label, f.keysWidth()-keyWidth, textSize)
}

// shorten cuts a text to a width, px.
func shorten(text string, width, size float64) string {
	if textWidth(text, size) <= width {
		return text
	}
	runes := []rune(text)
	for len(runes) > 0 && textWidth(string(runes)+"…", size) > width {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + "…"
}

// drawLegend writes each label where its trace ends, moved as little as keeps
// lines of text apart, and joined to that end by a sample of the trace; or in
// rows below the figure when there are too many.
func (f *Figure) drawLegend(c *canvas, p plan) {
	if f.Heat != nil {
		return
	}
	if p.keysBelow {
		f.drawRows(c, p)
		return
	}
	a := p.area
	for _, k := range f.arrange(a) {
		x := a.x + a.w
		y := a.y + k.y
		c.Open("g", "class", "trace "+k.trace.Look.class(), "data-rung", k.trace.Rung)
		leader := [][]point{{{x + 1, a.y + k.want}, {x + 5, y}, {x + keyWidth - 4, y}}}
		k.trace.drawKey(c, leader, x+15, y)
		c.text(x+keyWidth, y+4, "start", "key", f.keyText(k.trace))
		c.Close("g")
	}
}

func (t *Trace) drawKey(c *canvas, leader [][]point, x, y float64) {
	if t.Kind == Line || t.Kind == Steps {
		t.drawLine(c, leader)
		return
	}
	c.Leaf("path", "class", "mark", "d", "M"+num(x)+" "+num(y)+t.Look.marker())
}

// arrange orders labels by where their traces end and spreads them at least
// one line apart, inside the area.
func (f *Figure) arrange(a area) []key {
	var keys []key
	for _, t := range f.labelled() {
		if y, ok := t.last(f, a); ok {
			keys = append(keys, key{trace: t, want: y, y: y})
		}
	}
	slices.SortStableFunc(keys, func(a, b key) int { return cmp.Compare(a.want, b.want) })
	floor := 5.0
	for i := range keys {
		keys[i].y = max(keys[i].y, floor)
		floor = keys[i].y + keyLine
	}
	ceiling := a.h - 3
	for i := range slices.Backward(keys) {
		keys[i].y = min(keys[i].y, ceiling)
		ceiling = keys[i].y - keyLine
	}
	return keys
}

func (f *Figure) rowWidth() float64 { return f.keysWidth() + 8 }

func (f *Figure) rowsBelow(width float64) float64 {
	perRow := max(math.Floor((width-8)/f.rowWidth()), 1)
	return math.Ceil(float64(len(f.labelled())) / perRow)
}

func (f *Figure) drawRows(c *canvas, p plan) {
	width, _ := f.size()
	perRow := int(max((width-8)/f.rowWidth(), 1))
	for i, t := range f.labelled() {
		x := 4 + float64(i%perRow)*f.rowWidth()
		y := p.area.y + p.area.h + 48 + float64(i/perRow)*keyLine
		c.Open("g", "class", "trace "+t.Look.class(), "data-rung", t.Rung)
		t.drawKey(c, [][]point{{{x, y}, {x + keyWidth - 4, y}}}, x+10, y)
		c.text(x+keyWidth, y+4, "start", "key", f.keyText(t))
		c.Close("g")
	}
}
