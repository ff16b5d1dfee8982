package plot

import (
	"html"
	"strings"
)

// canvas writes SVG elements. Attribute values and text are escaped; names are
// literals of this package.
type canvas struct{ strings.Builder }

func (c *canvas) open(name string, attributes ...string) {
	c.start(name, attributes)
	c.WriteByte('>')
}

func (c *canvas) close(name string) { c.WriteString("</" + name + ">") }

func (c *canvas) leaf(name string, attributes ...string) {
	c.start(name, attributes)
	c.WriteString("/>")
}

func (c *canvas) element(name, content string, attributes ...string) {
	c.open(name, attributes...)
	c.WriteString(escape(content))
	c.close(name)
}

func (c *canvas) start(name string, attributes []string) {
	c.WriteString("<" + name)
	for i := 0; i < len(attributes); i += 2 {
		c.WriteString(" " + attributes[i] + `="` + escape(attributes[i+1]) + `"`)
	}
}

// text writes one line of text; anchor is "start", "middle" or "end".
func (c *canvas) text(x, y float64, anchor, class, content string) {
	c.element("text", content, "x", num(x), "y", num(y), "text-anchor", anchor, "class", class)
}

// escape makes text safe inside elements and quoted attributes, and replaces
// characters that XML does not allow at all.
func escape(text string) string {
	legal := strings.Map(func(r rune) rune {
		if r < 0x20 && r != '\t' && r != '\n' && r != '\r' || r == 0xfffe || r == 0xffff {
			return 0xfffd
		}
		return r
	}, strings.ToValidUTF8(text, "\ufffd"))
	return html.EscapeString(legal)
}
