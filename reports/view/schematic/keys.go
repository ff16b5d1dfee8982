package schematic

import "quietcross/stage/drawing"

// key is one entry of the legend: a sample and what it stands for.
type key struct {
	sample string // class of the sample
	at     text
}

// legend lists the samples and their meanings.
var legend = []struct{ sample, words string }{
	{"conducts", "conducts at rest (0.1 mA or more)"},
	{"volts", "volts against earth"},
	{"current", "current"},
	{"", "P: heat"},
}

const (
	sampleWidth = 16.0
	keyGap      = 14.0
)

// placeKeys puts the legend below the drawing, in as many lines as it needs.
func (p *plan) placeKeys() {
	x, y := p.frame.x, p.frame.y+p.frame.h+22
	for _, entry := range legend {
		t := text{x, y, drawing.Start, []run{{entry.words, ""}}}
		if entry.sample != "" {
			t.x += sampleWidth
		}
		if end := t.box(); end.x+end.w > p.frame.x+p.frame.w && x > p.frame.x {
			y += lineStep + 3
			t.x, t.y = t.x-x+p.frame.x, y
		}
		p.keys = append(p.keys, key{entry.sample, t})
		x = t.box().x + t.box().w + keyGap
	}
	for _, k := range p.keys {
		p.frame = p.frame.around(k.at.box())
	}
}

func drawKeys(c *canvas, p *plan) {
	for _, k := range p.keys {
		x, y := k.at.x-sampleWidth+5, k.at.y
		switch k.sample {
		case "conducts":
			c.Open("g", "class", "symbol conducts")
			c.Leaf("circle", "class", "body", "cx", num(x), "cy", num(y), "r", "5")
			c.Close("g")
		case "volts":
			c.Leaf("circle", "class", "sample", "cx", num(x), "cy", num(y), "r", "4")
		case "current":
			c.Leaf("path", "class", "arrow", "d", "M"+num(x)+" "+num(y+5)+"l-4.5-10h9z")
		}
		k.at.draw(c)
	}
}
