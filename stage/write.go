package stage

import (
	"fmt"
	"io"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"quietcross/stage/circuits"
	"quietcross/stage/quantity"
)

// A stage file is written in full, every value with what it is and what is legal, or
// short: only what reading would not put there by itself. Reading fills a device's table
// from a typical device ([circuits.Typical]); the short form names the kind that leaves
// the fewest keys to write. It finds all that by filling the same tables of a blank stage
// as reading does, and comparing.

// Write prints the spec as a commented stage file that [Read] turns back into
// exactly the same Spec. It refuses a spec that is not legal.
func (s Spec) Write(w io.Writer) error { return s.write(w, writeGroup) }

// WriteDifferent prints the spec with only those values that differ from the defaults,
// and those that have none. [Read] turns it back into exactly the same Spec too.
func (s Spec) WriteDifferent(w io.Writer) error {
	kind, err := circuits.Lookup(s.Circuit)
	if err != nil {
		return err
	}
	blank := circuits.Defaults()
	defaults := kind.Groups(&blank)
	i := -1
	return s.write(w, func(b *strings.Builder, g circuits.Group) {
		for i++; defaults[i].Name != g.Name; i++ { // those that the stage has not are skipped
		}
		writeDifferent(b, g, defaults[i])
	})
}

// write prints the head of a stage file and each of its tables.
func (s Spec) write(w io.Writer, table func(*strings.Builder, circuits.Group)) error {
	if err := s.Check(); err != nil {
		return err
	}
	kind, err := circuits.Lookup(s.Circuit)
	if err != nil {
		return err
	}
	var b strings.Builder
	b.WriteString("# A stage file. Quantities are plain numbers in SI base units, or strings\n" +
		"# with a unit and an SI prefix: \"10mA\", \"0.22ohm\", \"2.2kohm\", \"25C\".\n\n")
	fmt.Fprintf(&b, "schema = %d\n", Schema)
	for _, line := range [][2]string{{"name", s.Name}, {"title", s.Title}, {"circuit", s.Circuit}} {
		fmt.Fprintf(&b, "%s = %s\n", line[0], quoted(line[1]))
	}
	for _, group := range kind.Groups(&s.Parts) {
		if !group.Absent() {
			table(&b, group)
		}
	}
	_, err = io.WriteString(w, b.String())
	return err
}

// quoted writes a one-line string as TOML does.
func quoted(text string) string {
	encoded, err := toml.Marshal(map[string]string{"v": text})
	if err != nil {
		panic("stage: a string that cannot be written: " + err.Error())
	}
	return strings.TrimSpace(strings.TrimPrefix(string(encoded), "v = "))
}

func writeGroup(b *strings.Builder, g circuits.Group) {
	writeHead(b, g)
	for _, f := range g.Fields {
		writeField(b, f)
	}
}

func writeHead(b *strings.Builder, g circuits.Group) {
	fmt.Fprintf(b, "\n# %s\n[%s]\n", g.Doc, g.Name)
}

func writeField(b *strings.Builder, f circuits.Field) {
	line := f.Key + " = " + fieldText(f)
	fmt.Fprintf(b, "%-34s # %s; %s\n", line, f.Doc, f.Range)
}

// writeDifferent writes what of a table differs from the same table of a blank stage.
func writeDifferent(b *strings.Builder, g, blank circuits.Group) {
	if g.Typical != nil {
		writeDevice(b, g, blank)
		return
	}
	keys := differing(g, blank, true)
	if len(keys) == 0 && g.Fitted == nil {
		return
	}
	writeHead(b, g)
	for _, f := range keys {
		writeField(b, f)
	}
}

// writeDevice writes a device's table from the typical device, or the ideal one, that
// leaves the fewest keys.
func writeDevice(b *strings.Builder, g, blank circuits.Group) {
	fillRequired(blank)
	keys, kind := differing(g, blank, false), ""
	for i, t := range blank.Typical {
		t.Fill()
		left := differing(g, blank, false)
		if i == 0 && len(left) == 0 {
			return // the role's device as it is needs no table
		}
		if len(left)+1 < len(keys) {
			keys, kind = left, t.Kind
		}
	}
	writeHead(b, g)
	if kind != "" {
		fmt.Fprintf(b, "%-34s # values left out are those of this typical device\n", fmt.Sprintf("%s = %q", circuits.KindKey, kind))
	}
	for _, f := range keys {
		writeField(b, f)
	}
}

// differing lists the fields of a table whose values are not those of another, and with
// required set those that a file must give.
func differing(g, other circuits.Group, required bool) []circuits.Field {
	var list []circuits.Field
	for i, f := range g.Fields {
		if required && !f.Optional || !same(f.Value, other.Fields[i].Value) {
			list = append(list, f)
		}
	}
	return list
}

// same compares two values of one field.
func same(a, b any) bool {
	switch a := a.(type) {
	case *float64:
		return *a == *b.(*float64)
	case *int:
		return *a == *b.(*int)
	}
	panic(fmt.Sprintf("stage: a value of type %T", a))
}

func fieldText(f circuits.Field) string {
	switch v := f.Value.(type) {
	case *int:
		return fmt.Sprint(*v)
	case *float64:
		text := quantity.Format(*v, f.Range.Unit)
		if f.Range.Unit == quantity.Number {
			return text
		}
		return `"` + text + `"`
	}
	panic(fmt.Sprintf("stage: field %s has a value of type %T", f.Key, f.Value))
}
