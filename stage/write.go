package stage

import (
	"fmt"
	"io"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"quietcross/stage/circuits"
	"quietcross/stage/quantity"
)

// Write prints the spec as a commented stage file that [Read] turns back into
// exactly the same Spec. It refuses a spec that is not legal.
func (s Spec) Write(w io.Writer) error {
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
			writeGroup(&b, group)
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
	fmt.Fprintf(b, "\n# %s\n[%s]\n", g.Doc, g.Name)
	for _, f := range g.Fields {
		line := f.Key + " = " + fieldText(f)
		fmt.Fprintf(b, "%-34s # %s; %s\n", line, f.Doc, f.Range)
	}
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
