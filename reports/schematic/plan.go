package schematic

import "quietcross/stage/drawing"

// margin is the empty rim of a picture, px.
const margin = 10.0

// plan is where everything goes.
type plan struct {
	drawing drawing.Drawing
	frame   box
	texts   []text
	keys    []key
}

func (f *Figure) plan(d drawing.Drawing, alone bool) *plan {
	p := &plan{drawing: d}
	for _, part := range d.Parts {
		p.stack(part.Label, f.lines(part))
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
	inner := p.frame
	p.frame = box{inner.x - margin, inner.y - margin, inner.w + 2*margin, inner.h + 2*margin}
	return p
}

// head writes a line above all that is there.
func (p *plan) head(runs []run, distance float64) {
	t := text{p.frame.x, p.frame.y + textSize/2 - distance, drawing.Start, runs}
	p.texts = append(p.texts, t)
	p.frame = p.frame.around(t.box())
}

// stack writes lines below each other about a label's place.
func (p *plan) stack(l drawing.Label, lines [][]run) {
	top := unit*l.At.Y - lineStep*float64(len(lines)-1)/2
	for i, runs := range lines {
		p.texts = append(p.texts, text{unit * l.At.X, top + lineStep*float64(i), l.Align, runs})
	}
}

// extent returns the least box around symbols, wires and texts.
func (p *plan) extent() box {
	var all box
	grow := func(b box) {
		if all == (box{}) {
			all = b
		}
		all = all.around(b)
	}
	for _, part := range p.drawing.Parts {
		b := part.Body()
		grow(box{unit * b.Min.X, unit * b.Min.Y, unit * (b.Max.X - b.Min.X), unit * (b.Max.Y - b.Min.Y)})
	}
	for _, w := range p.drawing.Wires {
		for _, at := range w {
			grow(box{unit * float64(at.X), unit * float64(at.Y), 0, 0})
		}
	}
	for _, t := range p.texts {
		grow(t.box())
	}
	return all
}
