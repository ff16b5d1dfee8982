package stage

import (
	"strings"

	"github.com/pelletier/go-toml/v2/unstable"
)

// keyLines returns the line, from 1, of every key and table of a TOML document
// that parses. Keys are dotted paths.
func keyLines(data []byte) map[string]int {
	lines := map[string]int{}
	p := unstable.Parser{}
	p.Reset(data)
	table := ""
	for p.NextExpression() {
		e := p.Expression()
		path, line := keyPath(&p, e)
		switch e.Kind {
		case unstable.Table, unstable.ArrayTable:
			table = path
		case unstable.KeyValue:
			if table != "" {
				path = table + "." + path
			}
		default:
			continue
		}
		if _, seen := lines[path]; !seen {
			lines[path] = line
		}
	}
	return lines
}

func keyPath(p *unstable.Parser, e *unstable.Node) (path string, line int) {
	var parts []string
	for it := e.Key(); it.Next(); {
		parts = append(parts, string(it.Node().Data))
		if line == 0 {
			line = p.Shape(it.Node().Raw).Start.Line
		}
	}
	return strings.Join(parts, "."), line
}
