package stage

import (
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
// can say where. What is left over is unknown, and refused too. A fault does not end the
// reading: all of them are told together, in the order of their lines.

// maximumFile bounds a stage file, in bytes.
const maximumFile = 1 << 20

// Read reads a stage file: TOML with the tables and keys that its circuit kind
// uses, as [Spec.Write] prints them. Quantities are plain numbers in SI base
// units or strings with a unit and prefix ("10mA", "0.22ohm", "25C"). What a device's
// table leaves out is taken from a typical device ([circuits.Typical]). Unknown,
// missing, misspelt and out-of-range values are refused, all of them at once, as an
// *Error or, where there are several, as [Faults]: each gives file name, line, key, what
// was found and what is legal.
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
	spec := d.spec()
	for _, fault := range d.faults {
		fault.File, fault.Line = name, d.line(fault.Key)
	}
	slices.SortStableFunc(d.faults, func(a, b *Error) int { return a.Line - b.Line })
	if err := d.faults.err(); err != nil {
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
	root   map[string]any
	lines  map[string]int
	faults Faults
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

// spec decodes and checks the whole file, and notes its faults without file and line.
func (d *decoder) spec() Spec {
	s := Spec{Parts: circuits.Defaults()}
	d.schema()
	d.text("name", &s.Name, checkName)
	d.text("title", &s.Title, checkTitle)
	named := d.text("circuit", &s.Circuit, func(string) error { return nil })
	kind, err := circuits.Lookup(s.Circuit)
	if err != nil {
		if named {
			d.faults.add("circuit", err)
		}
		return s
	}
	groups := kind.Groups(&s.Parts)
	d.unknown(groups)
	d.fit(groups)
	for _, group := range groups {
		d.group(group)
	}
	if d.faults == nil {
		d.faults = s.faults()
	}
	return s
}

func (d *decoder) schema() {
	v, found := d.root["schema"]
	if !found {
		d.faults.add("schema", fmt.Errorf("missing; write schema = %d", Schema))
		return
	}
	if n, ok := v.(int64); !ok || n != Schema {
		d.faults.add("schema", fmt.Errorf("found %v; this program reads schema %d", v, Schema))
	}
}

// text takes a string that passes a check, and reports whether there is one.
func (d *decoder) text(key string, to *string, check func(string) error) bool {
	v, found := d.root[key]
	if !found {
		d.faults.add(key, errors.New("missing"))
		return false
	}
	text, ok := v.(string)
	if !ok {
		d.faults.add(key, fmt.Errorf("found %v; wanted a string", v))
		return false
	}
	*to = text
	if err := check(text); err != nil {
		d.faults.add(key, err)
	}
	return true
}

// unknown notes the tables and keys that the circuit does not use.
func (d *decoder) unknown(groups []circuits.Group) {
	known := map[string][]string{"schema": nil, "name": nil, "title": nil, "circuit": nil}
	for _, group := range groups {
		known[group.Name] = []string{}
		if group.Typical != nil {
			known[group.Name] = append(known[group.Name], circuits.KindKey)
		}
		for _, f := range group.Fields {
			known[group.Name] = append(known[group.Name], f.Key)
		}
	}
	for _, key := range slices.Sorted(maps.Keys(d.root)) {
		keys, ok := known[key]
		if !ok {
			d.faults.add(key, unknownKey(slices.Sorted(maps.Keys(known))))
			continue
		}
		table, isTable := d.root[key].(map[string]any)
		if keys != nil && !isTable {
			d.faults.add(key, errors.New("is not a table"))
		}
		if keys == nil {
			continue
		}
		for _, inner := range slices.Sorted(maps.Keys(table)) {
			if !slices.Contains(keys, inner) {
				d.faults.add(key+"."+inner, unknownKey(keys))
			}
		}
	}
}

func unknownKey(legal []string) error {
	return fmt.Errorf("is no key of this circuit's stage file; here there are: %s", strings.Join(legal, ", "))
}

// fit notes which optional parts of the stage the file has a table of.
func (d *decoder) fit(groups []circuits.Group) {
	for _, g := range groups {
		if _, found := d.root[g.Name]; found && g.Fitted != nil {
			*g.Fitted = true
		}
	}
}

// group takes one table.
func (d *decoder) group(g circuits.Group) {
	if g.Absent() {
		return
	}
	v, found := d.root[g.Name]
	table, isTable := v.(map[string]any)
	if found && !isTable {
		return // told as unknown
	}
	if g.Typical != nil {
		d.typical(g, table, found)
	}
	for _, field := range g.Fields {
		v, found := table[field.Key]
		key := g.Name + "." + field.Key
		switch {
		case found:
			if err := store(field, v); err != nil {
				d.faults.add(key, err)
			}
		case !field.Optional && g.Typical == nil:
			d.faults.add(key, fmt.Errorf("missing; legal are %s (%s)", field.Range, field.Doc))
		}
	}
}

// typical fills a device's table with what a file may leave out.
func (d *decoder) typical(g circuits.Group, table map[string]any, found bool) {
	v, named := table[circuits.KindKey]
	switch {
	case !found:
		g.Typical[0].Fill()
		return
	case !named:
		fillRequired(g)
		return
	}
	var legal []string
	for _, t := range g.Typical {
		if v == t.Kind {
			t.Fill()
			return
		}
		legal = append(legal, fmt.Sprintf("%q", t.Kind))
	}
	d.faults.add(g.Name+"."+circuits.KindKey, fmt.Errorf("found %v; legal are %s", v, strings.Join(legal, " and ")))
}

// fillRequired takes what no ideal stands for from the typical device of the table's
// role, and leaves the optional values as they are.
func fillRequired(g circuits.Group) {
	kept := make([]float64, len(g.Fields))
	for i, f := range g.Fields {
		kept[i] = *f.Value.(*float64) // a device's values are all real
	}
	g.Typical[0].Fill()
	for i, f := range g.Fields {
		if f.Optional {
			*f.Value.(*float64) = kept[i]
		}
	}
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
