package schematic

import (
	"strings"

	"quietcross/reports/view/format"
	"quietcross/stage"
	"quietcross/stage/circuits"
	"quietcross/stage/drawing"
)

// Figure is the schematic of a stage at one setting.
type Figure struct {
	// Name makes the figure's ids unique inside a page: lower-case letters, digits
	// and hyphens only.
	Name string
	// Spec is the stage, with the trimmed part of its bias as it is (see
	// stage.Biased.Trimmed), Setting its bias and Point the operating point solved with
	// it.
	Spec    stage.Spec
	Setting stage.Setting
	Point   stage.OperatingPoint
	// Plain writes names alone, large, and no legend: for a drawing that is looked at from
	// afar or beside a text.
	Plain bool
	// Ways are currents to be followed.
	Ways []Way
}

// SVG returns the schematic as an element for a page that carries [Style]. The
// error is that of a circuit without a drawing. It panics on a name that cannot
// be an id.
func (f *Figure) SVG() (string, error) { return f.draw(false) }

// Document returns the schematic as an SVG file that stands alone, with its title
// drawn on top, light or dark as the reader's screen. Errors and panics are those
// of [Figure.SVG].
func (f *Figure) Document() (string, error) {
	svg, err := f.draw(true)
	if err != nil {
		return "", err
	}
	return `<?xml version="1.0" encoding="UTF-8"?>` + "\n" + svg + "\n", nil
}

func (f *Figure) draw(alone bool) (string, error) {
	if f.Name == "" || strings.Trim(f.Name, "abcdefghijklmnopqrstuvwxyz0123456789-") != "" {
		panic("schematic: figure name " + f.Name + " is not made of lower-case letters, digits and hyphens")
	}
	d, err := circuits.Draw(f.Spec.Circuit, f.Spec.Parts, f.forced())
	if err != nil {
		return "", err
	}
	c := newCanvas()
	f.write(c, f.plan(d, alone), alone)
	return c.String(), nil
}

func (f *Figure) write(c *canvas, p *plan, alone bool) {
	size := p.frame
	class := "schematic"
	if f.Plain {
		class += " plain"
	} else if size.w >= wide {
		class += " wide"
	}
	attributes := []string{
		"class", class, "role", "img", "aria-labelledby", f.Name + "-t " + f.Name + "-d",
		"viewBox", num(size.x) + " " + num(size.y) + " " + num(size.w) + " " + num(size.h),
	}
	if alone {
		attributes = append(attributes, "xmlns", "http://www.w3.org/2000/svg", "width", num(size.w), "height", num(size.h))
	}
	c.Open("svg", attributes...)
	c.Element("title", f.title(), "id", f.Name+"-t")
	c.Element("desc", f.description(p.drawing), "id", f.Name+"-d")
	if alone {
		c.Element("style", documentStyle())
		c.Leaf("rect", "class", "paper", "x", num(size.x), "y", num(size.y), "width", num(size.w), "height", num(size.h))
	}
	for _, w := range f.Ways {
		w.draw(c)
	}
	drawWires(c, p.drawing)
	drawDots(c, p.drawing)
	for _, part := range p.drawing.Parts {
		drawSymbol(c, part, f.conducts(part))
	}
	for _, part := range p.drawing.Parts {
		drawArrow(c, part)
	}
	for _, t := range p.texts {
		t.draw(c)
	}
	drawKeys(c, p)
	c.Close("svg")
}

// forced reports whether an ideal source stands in place of the bias parts.
func (f *Figure) forced() bool { return f.Spec.BiasSource(f.Setting) == stage.IdealSource }

func (f *Figure) title() string { return f.Spec.Name + ", " + f.setting() }

func (f *Figure) setting() string {
	value := format.Setting(f.Setting.Mode(), f.Setting.Value())
	if f.Setting == stage.AsBuilt() {
		return value
	}
	return f.Setting.Mode() + " " + value
}

// description tells the drawing in words: each device with its current and heat,
// then the supplies.
func (f *Figure) description(d drawing.Drawing) string {
	var b strings.Builder
	b.WriteString("Circuit diagram: " + f.Spec.Circuit + " with no signal.")
	for _, p := range d.Parts {
		if o, ok := f.operation(p); ok {
			b.WriteString(" " + p.Name + ", " + o.Name + ": " + small(o.Current, "A") + ", " + small(o.Dissipation, "W"))
			if f.conducts(p) {
				b.WriteString(", conducting")
			}
			b.WriteByte('.')
		}
	}
	for _, rail := range f.Point.Supplies {
		b.WriteString(" The " + rail.Name + " is at " + format.Quantity(rail.Volts, "V") + " and delivers " + small(rail.Current, "A") + ".")
	}
	return b.String()
}
