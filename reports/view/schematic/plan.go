package schematic

import (
	"math"
	"slices"
	"strings"

	"quietcross/stage/drawing"
)

// margin is the empty rim of a picture, px, and plainRim that of a plain one, whose
// letters are larger than its plan knows.
const (
	margin   = 10.0
	plainRim = 16.0
)

// plan is where everything goes.
type plan struct {
	drawing drawing.Drawing
	ink     []box // taken by symbols and wires
	frame   box
	texts   []text
	keys    []key
}

func (f *Figure) plan(d drawing.Drawing, alone bool) *plan {
	p := &plan{drawing: d, ink: inked(d)}
	for _, part := range d.Parts {
		p.place(part.Label, f.lines(part))
	}
	if f.Plain {
		p.frame = p.extent().wider(plainRim)
		return p
	}
	for _, node := range d.Nodes {
		if volts, ok := f.volts(node.Name); ok && node.Shown {
			p.stack(node.Label, [][]run{{{signed(volts), "volts"}}})
		}
	}
	p.frame = p.extent()
	p.placeKeys()
	if alone {
		p.head([]run{{f.Spec.Title, ""}}, 22)
		p.head([]run{{f.title(), "name"}}, lineStep+2)
	}
	p.frame = p.frame.wider(margin)
	return p
}

// head writes a line above all that is there.
func (p *plan) head(runs []run, distance float64) {
	t := text{p.frame.x, p.frame.y + textSize/2 - distance, drawing.Start, runs}
	p.texts = append(p.texts, t)
	p.frame = p.frame.around(t.box())
}

// place writes the lines beside a part. A lone line that would overprint is broken
// behind its first run, the name, if that helps.
func (p *plan) place(l drawing.Label, lines [][]run) {
	before := len(p.texts)
	p.stack(l, lines)
	if len(lines) != 1 || len(lines[0]) < 2 || p.clear(before) {
		return
	}
	p.texts = p.texts[:before]
	broken := l
	if l.Align == drawing.Middle {
		broken.At.Y -= lineStep / 2 / unit
	}
	p.stack(broken, [][]run{lines[0][:1], trimmed(lines[0][1:])})
	if !p.clear(before) {
		p.texts = p.texts[:before]
		p.stack(l, lines)
	}
}

// trimmed returns runs without white space at their front.
func trimmed(runs []run) []run {
	runs = slices.Clone(runs)
	runs[0].text = strings.TrimLeft(runs[0].text, " \u00a0")
	return runs
}

// clear reports whether the texts from an index on meet no earlier text, no symbol
// and no wire.
func (p *plan) clear(from int) bool {
	for _, t := range p.texts[from:] {
		b := t.box()
		if slices.ContainsFunc(p.texts[:from], func(o text) bool { return b.meets(o.box()) }) || slices.ContainsFunc(p.ink, b.meets) {
			return false
		}
	}
	return true
}

// inked lists the boxes of symbols and of straight stretches of wire.
func inked(d drawing.Drawing) []box {
	var list []box
	for _, part := range d.Parts {
		b := part.Body()
		list = append(list, box{unit * b.Min.X, unit * b.Min.Y, unit * (b.Max.X - b.Min.X), unit * (b.Max.Y - b.Min.Y)})
	}
	for _, w := range d.Wires {
		for i := 1; i < len(w); i++ {
			a, b := w[i-1], w[i]
			list = append(list, box{
				unit * float64(min(a.X, b.X)), unit * float64(min(a.Y, b.Y)),
				unit * math.Abs(float64(a.X-b.X)), unit * math.Abs(float64(a.Y-b.Y)),
			})
		}
	}
	return list
}

// stack writes lines below each other about a label's place.
func (p *plan) stack(l drawing.Label, lines [][]run) {
	top := unit*l.At.Y - lineStep*float64(len(lines)-1)/2
	for i, runs := range lines {
		p.texts = append(p.texts, text{unit * l.At.X, top + lineStep*float64(i), l.Align, runs})
	}
}

// extent returns the minimum box around symbols, wires and texts.
func (p *plan) extent() box {
	var all box
	grow := func(b box) {
		if all == (box{}) {
			all = b
		}
		all = all.around(b)
	}
	for _, b := range p.ink {
		grow(b)
	}
	for _, t := range p.texts {
		grow(t.box())
	}
	return all
}
