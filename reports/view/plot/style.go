package plot

import (
	"fmt"
	"strings"
)

const fonts = `system-ui,"Segoe UI","Helvetica Neue",Arial,sans-serif`

// rules is the style shared by page and stand-alone figures; colours are
// filled in by name.
const rules = `.plot text{font:12px ` + fonts + `;fill:{ink}}
.plot .heading{font-size:13px;font-weight:600}
.plot .tick{font-size:11px;font-variant-numeric:tabular-nums}
.plot .note{font-size:11px;paint-order:stroke;stroke:{paper};stroke-width:3px;stroke-linejoin:round}
.plot .paper{fill:{paper}}
.plot .grid{stroke:{grid};stroke-width:1;fill:none}
.plot .minor{stroke:{ink};stroke-width:.7;fill:none;opacity:.55}
.plot .frame{stroke:{ink};stroke-width:1;fill:none}
.plot .rule{stroke:{ink};stroke-width:.8;fill:none;stroke-dasharray:3 3;opacity:.8}
.plot .band{fill:{ink};opacity:.08}
.plot .ink{color:{ink}}
.plot .pale{color:{pale}}
.plot .line{stroke:currentColor;stroke-width:1.4;fill:none;stroke-linejoin:round}
.plot .wide .line{stroke-width:2.6}
.plot .pale.wide .line{stroke-width:4}
.plot .stem{stroke:currentColor;stroke-width:1;fill:none}
.plot .mark{stroke:currentColor;stroke-width:1;fill:currentColor}
.plot .fill{fill:currentColor;opacity:.35}
.plot.swatch,.plot .swatch{overflow:visible}
.plot image{image-rendering:pixelated}
`

// paint fills the colours of the rules in.
func paint(colour func(name string) string) string {
	var b strings.Builder
	rest := rules
	for {
		before, after, found := strings.Cut(rest, "{")
		b.WriteString(before)
		if !found {
			break
		}
		name, tail, _ := strings.Cut(after, "}")
		if inks[name] != [2]string{} {
			b.WriteString(colour(name))
			rest = tail
			continue
		}
		b.WriteByte('{')
		rest = after
	}
	for i := range palette {
		fmt.Fprintf(&b, ".plot .k%d,.plot.k%d{color:%s}\n", i, i, colour(fmt.Sprintf("k%d", i)))
	}
	return b.String()
}

// inks are the named colours, light and dark.
var inks = map[string][2]string{
	"ink":   {"#1c2126", "#e4e6e3"},
	"paper": {"#ffffff", "#15191d"},
	"grid":  {"#dfe3e4", "#2c3338"},
	"pale":  {"#b9c0c4", "#566067"},
}

func inkOf(name string, dark int) string {
	if pair, ok := inks[name]; ok {
		return pair[dark]
	}
	var index int
	fmt.Sscanf(name, "k%d", &index)
	if dark == 1 {
		return darkPalette[index]
	}
	return palette[index]
}

// Style returns the CSS for a page that holds figures: light, dark where the
// reader prefers it, and light again in print.
func Style() string {
	var b strings.Builder
	b.WriteString(":root{" + variables(0) + "}\n")
	b.WriteString("@media screen and (prefers-color-scheme:dark){:root{" + variables(1) + "}}\n")
	b.WriteString(paint(func(name string) string { return "var(--" + name + ")" }))
	return b.String()
}

func variables(dark int) string {
	var b strings.Builder
	for _, name := range []string{"ink", "paper", "grid", "pale"} {
		b.WriteString("--" + name + ":" + inkOf(name, dark) + ";")
	}
	for i := range palette {
		name := fmt.Sprintf("k%d", i)
		b.WriteString("--" + name + ":" + inkOf(name, dark) + ";")
	}
	return b.String()
}

func documentStyle() string {
	return paint(func(name string) string { return inkOf(name, 0) })
}
