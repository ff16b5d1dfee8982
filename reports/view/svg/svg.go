// Package svg writes SVG elements. Attribute values and text are escaped; names
// are the caller's own literals.
package svg

import (
	"html"
	"strings"
)

// Canvas gathers elements. Attributes are given as names and values in turn.
type Canvas struct {
	strings.Builder
	// Lines begins each element on a line of its own.
	Lines bool
}

// Open writes a start tag.
func (c *Canvas) Open(name string, attributes ...string) {
	c.start(name, attributes)
	c.WriteByte('>')
}

// Close writes an end tag.
func (c *Canvas) Close(name string) { c.WriteString("</" + name + ">") }

// Leaf writes an element without content.
func (c *Canvas) Leaf(name string, attributes ...string) {
	c.start(name, attributes)
	c.WriteString("/>")
}

// Element writes an element with text as its content.
func (c *Canvas) Element(name, content string, attributes ...string) {
	c.Open(name, attributes...)
	c.WriteString(Escape(content))
	c.Close(name)
}

func (c *Canvas) start(name string, attributes []string) {
	if c.Lines {
		c.WriteByte('\n')
	}
	c.WriteString("<" + name)
	for i := 0; i < len(attributes); i += 2 {
		c.WriteString(" " + attributes[i] + `="` + Escape(attributes[i+1]) + `"`)
	}
}

// Escape makes text safe inside elements and quoted attributes, and replaces
// characters that XML does not allow at all.
func Escape(text string) string {
	legal := strings.Map(func(r rune) rune {
		if r < 0x20 && r != '\t' && r != '\n' && r != '\r' || r == 0xfffe || r == 0xffff {
			return 0xfffd
		}
		return r
	}, strings.ToValidUTF8(text, "\ufffd"))
	return html.EscapeString(legal)
}
