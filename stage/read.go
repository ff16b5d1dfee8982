package stage

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"quietcross/stage/circuits"
	"quietcross/stage/quantity"
)

// A stage file is decoded twice: into plain values, out of which the tables and keys of its
// circuit are taken one by one, and into the lines at which keys stand, so that a refusal
// can say where. What is left over is unknown, and refused too.

// maximumFile bounds a stage file, in bytes.
const maximumFile = 1 << 20

// Read reads a stage file: TOML with the tables and keys that its circuit kind
// uses, as [Spec.Write] prints them. Quantities are plain numbers in SI base
// units or strings with a unit and prefix ("10mA", "0.22ohm", "25C"). Unknown,
// missing, misspelt and out-of-range values are refused with an *Error that
// gives file name, line, key, what was found and what is legal.
func Read(r io.Reader, name string) (Spec, error) {
	data, err := io.ReadAll(io.LimitReader(r, maximumFile+1))
	if err != nil {
		return Spec{}, fmt.Errorf("%s: %w", name, err)
	}
	if len(data) > maximumFile {
		return Spec{}, &Error{File: name, Err: fmt.Errorf("longer than a stage file may be, %d bytes", maximumFile)}
	}
	root := map[string]any{}
	if err := toml.Unmarshal(data, &root); err != nil {
		return Spec{}, syntaxError(name, err)
	}
	d := &decoder{root: root, lines: keyLines(data)}
	spec, err := d.spec()
	if refused := (*Error)(nil); errors.As(err, &refused) {
		refused.File = name
		refused.Line = d.line(refused.Key)
	}
	if err != nil {
		return Spec{}, err
	}
	return spec, nil
}

func syntaxError(name string, err error) error {
	line := 0
	if at := (*toml.DecodeError)(nil); errors.As(err, &at) {
		line, _ = at.Position()
	}
	return &Error{File: name, Line: line, Err: err}
}

// decoder takes a spec out of decoded TOML. Map keys are compared exactly, so
// that a wrong letter case is an unknown key.
type decoder struct {
	root  map[string]any
	lines map[string]int
}

// line returns the line of a key, or of the nearest table around it.
func (d *decoder) line(key string) int {
	for key != "" {
		if n, ok := d.lines[key]; ok {
			return n
		}
		dot := strings.LastIndexByte(key, '.')
		key = key[:max(dot, 0)]
	}
	return 0
}

// spec decodes and checks the whole file. Its errors are *Error without file
// and line.
func (d *decoder) spec() (Spec, error) {
	s := Spec{Parts: circuits.Defaults()}
	if err := d.schema(); err != nil {
		return s, err
	}
	err := cmp.Or(d.text("name", &s.Name), d.text("title", &s.Title), d.text("circuit", &s.Circuit))
	if err != nil {
		return s, err
	}
	kind, err := circuits.Lookup(s.Circuit)
	if err != nil {
		return s, &Error{Key: "circuit", Err: err}
	}
	groups := kind.Groups(&s.Parts)
	if err := d.unknown(groups); err != nil {
		return s, err
	}
	d.fit(groups)
	for _, group := range groups {
		if err := d.group(group); err != nil {
			return s, err
		}
	}
	return s, s.Check()
}

func (d *decoder) schema() error {
	v, found := d.root["schema"]
	if !found {
		return &Error{Key: "schema", Err: fmt.Errorf("missing; write schema = %d", Schema)}
	}
	if n, ok := v.(int64); !ok || n != Schema {
		return &Error{Key: "schema", Err: fmt.Errorf("found %v; this program reads schema %d", v, Schema)}
	}
	return nil
}

func (d *decoder) text(key string, to *string) error {
	v, found := d.root[key]
	if !found {
		return &Error{Key: key, Err: errors.New("missing")}
	}
	text, ok := v.(string)
	if !ok {
		return &Error{Key: key, Err: fmt.Errorf("found %v; wanted a string", v)}
	}
	*to = text
	return nil
}

// unknown refuses the first table or key, in alphabetical order, that the
// circuit does not use.
func (d *decoder) unknown(groups []circuits.Group) error {
	known := map[string][]string{"schema": nil, "name": nil, "title": nil, "circuit": nil}
	for _, group := range groups {
		known[group.Name] = []string{}
		for _, f := range group.Fields {
			known[group.Name] = append(known[group.Name], f.Key)
		}
	}
	for _, key := range slices.Sorted(maps.Keys(d.root)) {
		keys, ok := known[key]
		if !ok {
			return unknownKey(key, slices.Sorted(maps.Keys(known)))
		}
		table, isTable := d.root[key].(map[string]any)
		if keys != nil && !isTable {
			return &Error{Key: key, Err: errors.New("is not a table")}
		}
		if keys == nil {
			continue
		}
		for _, inner := range slices.Sorted(maps.Keys(table)) {
			if !slices.Contains(keys, inner) {
				return unknownKey(key+"."+inner, keys)
			}
		}
	}
	return nil
}

func unknownKey(key string, legal []string) error {
	return &Error{Key: key, Err: fmt.Errorf("is no key of this circuit's stage file; here there are: %s", strings.Join(legal, ", "))}
}

// fit notes which optional parts of the stage the file has a table of.
func (d *decoder) fit(groups []circuits.Group) {
	for _, g := range groups {
		if _, found := d.root[g.Name]; found && g.Fitted != nil {
			*g.Fitted = true
		}
	}
}

func (d *decoder) group(g circuits.Group) error {
	if g.Absent() {
		return nil
	}
	table, _ := d.root[g.Name].(map[string]any)
	for _, field := range g.Fields {
		v, found := table[field.Key]
		key := g.Name + "." + field.Key
		if !found {
			if field.Optional {
				continue
			}
			return &Error{Key: key, Err: fmt.Errorf("missing; legal are %s (%s)", field.Range, field.Doc)}
		}
		if err := store(field, v); err != nil {
			return &Error{Key: key, Err: err}
		}
	}
	return nil
}

// store converts one decoded value into its field.
func store(f circuits.Field, v any) error {
	x, err := number(v, f.Range.Unit)
	if err != nil {
		return err
	}
	if err := f.Range.Check(x); err != nil {
		return err
	}
	switch to := f.Value.(type) {
	case *float64:
		*to = x
	case *int:
		if x != math.Trunc(x) {
			return fmt.Errorf("found %v; wanted a whole number, %s", v, f.Range)
		}
		*to = int(x)
	}
	return nil
}

func number(v any, unit quantity.Unit) (float64, error) {
	switch v := v.(type) {
	case float64:
		return v, nil
	case int64:
		return float64(v), nil
	case string:
		return quantity.Parse(v, unit)
	}
	return 0, fmt.Errorf("found %v; wanted a number or a quantity in a string", v)
}

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
