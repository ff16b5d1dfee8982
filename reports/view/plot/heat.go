package plot

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"image"
	"image/png"
	"math"
)

// Heat is a field of values over the whole plot area, drawn as an embedded PNG
// with a colour bar. Its cells are uniform along the axes: on a logarithmic axis
// each cell is the same ratio wide.
type Heat struct {
	Cols, Rows int
	// Z holds Rows rows of Cols values, the row at the axis's lower end first.
	// NaN and -Inf show as the minimum value.
	Z []float32
	// Lo and Hi are the values at the ends of the colour bar, Unit its unit.
	Lo, Hi float64
	Label  string
	Unit   string
}

func (h *Heat) check() {
	if h.Cols < 1 || h.Rows < 1 || len(h.Z) != h.Cols*h.Rows {
		panic(fmt.Sprintf("plot: heat map of %d by %d holds %d values", h.Cols, h.Rows, len(h.Z)))
	}
	h.scale().check()
}

func (h *Heat) scale() Axis { return Axis{Label: h.Label, Unit: h.Unit, Lo: h.Lo, Hi: h.Hi} }

// PNG returns the map as an image of one pixel a cell, the top row being the
// upper end of the Y axis. It panics when Z does not hold Cols times Rows values
// or Lo is not below Hi.
func (h *Heat) PNG() []byte {
	h.check()
	img := image.NewPaletted(image.Rect(0, 0, h.Cols, h.Rows), colourMap())
	for row := range h.Rows {
		line := img.Pix[(h.Rows-1-row)*img.Stride:]
		for col := range h.Cols {
			line[col] = h.shade(float64(h.Z[row*h.Cols+col]))
		}
	}
	return encodePNG(img)
}

func (h *Heat) shade(value float64) uint8 {
	position := (value - h.Lo) / (h.Hi - h.Lo)
	if math.IsNaN(position) {
		return 0
	}
	return uint8(math.Round(min(max(position, 0), 1) * (shades - 1)))
}

func encodePNG(img image.Image) []byte {
	var b bytes.Buffer
	encoder := png.Encoder{CompressionLevel: png.BestCompression}
	if err := encoder.Encode(&b, img); err != nil {
		panic("plot: " + err.Error()) // a buffer takes everything
	}
	return b.Bytes()
}

func dataURI(image []byte) string {
	return "data:image/png;base64," + base64.StdEncoding.EncodeToString(image)
}

func (f *Figure) drawHeat(c *canvas, p plan) {
	if f.Heat == nil {
		return
	}
	a := p.area
	drawImage(c, f.Heat.PNG(), a)
	f.Heat.drawBar(c, area{a.x + a.w + 10, a.y, 10, a.h})
}

func drawImage(c *canvas, data []byte, a area) {
	c.Leaf("image", "href", dataURI(data), "x", num(a.x), "y", num(a.y),
		"width", num(a.w), "height", num(a.h), "preserveAspectRatio", "none")
}

// drawBar draws the colour bar with its own axis.
func (h *Heat) drawBar(c *canvas, a area) {
	bar := image.NewPaletted(image.Rect(0, 0, 1, shades), colourMap())
	for i := range shades {
		bar.SetColorIndex(0, shades-1-i, uint8(i))
	}
	drawImage(c, encodePNG(bar), a)
	scale := h.scale()
	lines := [][]point{{{a.x, a.y}, {a.x + a.w, a.y}, {a.x + a.w, a.y + a.h}, {a.x, a.y + a.h}, {a.x, a.y}}}
	for _, t := range scale.Ticks(a.h, yRoom) {
		if t.Label == "" {
			continue
		}
		y := a.y + (1-scale.Position(t.Value))*a.h
		lines = append(lines, []point{{a.x + a.w, y}, {a.x + a.w + 4, y}})
		c.text(a.x+a.w+6, y+4, "start", "tick", t.Label)
	}
	c.Leaf("path", "class", "frame", "d", encode(lines))
	c.text(a.x+a.w+34, a.y-10, "end", "caption", scale.caption())
}
