package schematic

import "strings"

const fonts = `system-ui,"Segoe UI","Helvetica Neue",Arial,sans-serif`

// minimumWide is the width, px, under which a wide schematic scrolls instead of
// shrinking its text out of sight, and wide the width from which one is wide.
const (
	minimumWide = "480"
	wide        = 520
)

// rules is the style of page and stand-alone pictures; colours are filled in by
// name.
const rules = `.schematic.wide{min-width:` + minimumWide + `px}
:has(>.schematic.wide){overflow-x:auto}
.schematic text{font:13px ` + fonts + `;fill:{ink};font-variant-numeric:tabular-nums}
.schematic .paper{fill:{paper}}
.schematic .wire,.schematic .stroke{stroke:{ink};stroke-width:1.3;fill:none;stroke-linejoin:round}
.schematic .thick{stroke:{ink};stroke-width:2.4;fill:none}
.schematic .body{stroke:{ink};stroke-width:1.3;fill:{paper};stroke-linejoin:round}
.schematic .fill,.schematic .dot{fill:{ink};stroke:none}
.schematic .conducts .body{fill:{warm}}
.schematic .arrow{fill:{current};stroke:none}
.schematic .sample{fill:{volts};stroke:none}
.schematic .name{font-weight:600}
.schematic .term{font-style:italic}
.schematic .sub{font-size:9.5px}
.schematic .volts{fill:{volts}}
.schematic .current{fill:{current}}
`

// pageRules are of what only pages hold: plain drawings and ways.
const pageRules = `.schematic.plain text{font-size:19px}
.schematic .way{fill:none;stroke:{upper};stroke-linejoin:round;opacity:.45}
.schematic .way-arrow{fill:{upper};stroke:none}
.schematic .way.lower{stroke:{lower}}
.schematic .way-arrow.lower{fill:{lower}}
`

// ink is a colour in light and in dark.
type ink struct{ name, light, dark string }

// inks holds the colours. The first two are those of the page's figures.
var inks = []ink{
	{"ink", "#1c2126", "#e4e6e3"},
	{"paper", "#ffffff", "#15191d"},
	{"warm", "#ffd9a0", "#7a4a0c"},
	{"volts", "#0b5c8f", "#8ec6f0"},
	{"current", "#a3262a", "#ff9a94"},
	{"upper", "#c2571a", "#f0a05a"},
	{"lower", "#0f6ea4", "#6fb7ee"},
}

// paint fills colours into rules.
func paint(rules string, colour func(ink) string) string {
	pairs := make([]string, 0, 2*len(inks))
	for _, i := range inks {
		pairs = append(pairs, "{"+i.name+"}", colour(i))
	}
	return strings.NewReplacer(pairs...).Replace(rules)
}

// Style returns the CSS for a page that holds schematics: light, dark where the
// reader prefers it, and light again in print. Ink and paper are the variables of
// the page's other figures where it has them.
func Style() string {
	var light, dark strings.Builder
	for _, i := range inks[2:] {
		light.WriteString("--schematic-" + i.name + ":" + i.light + ";")
		dark.WriteString("--schematic-" + i.name + ":" + i.dark + ";")
	}
	return ":root{" + light.String() + "}\n" +
		"@media screen and (prefers-color-scheme:dark){:root{" + dark.String() + "}}\n" +
		paint(rules+pageRules, func(i ink) string {
			if i.name == "ink" || i.name == "paper" {
				return "var(--" + i.name + "," + i.light + ")"
			}
			return "var(--schematic-" + i.name + ")"
		})
}

// documentStyle holds its colours as they are, for viewers without variables.
func documentStyle() string {
	return "\n" + paint(rules, func(i ink) string { return i.light }) +
		"@media screen and (prefers-color-scheme:dark){\n" + paint(rules, func(i ink) string { return i.dark }) + "}\n"
}
