package stage

import (
	"embed"
	"fmt"
	"slices"
	"strings"

	"quietcross/stage/circuits"
)

// builtinFiles are demonstration stages; their part values are invented.
//
//go:embed builtin/*.toml
var builtinFiles embed.FS

// Named is a built-in stage.
type Named struct {
	Name, Title, Circuit string
}

// builtinNames lists the built-in stages in an order for people: by circuit.
func builtinNames() []string {
	var names []string
	for _, k := range circuits.Kinds() {
		names = append(names, k.Demos...)
	}
	return names
}

// Builtin lists the built-in stages. Their part values are for demonstration,
// physically sensible but no real part's.
func Builtin() []Named {
	var list []Named
	for _, name := range builtinNames() {
		spec, err := Lookup(name)
		if err != nil {
			panic("stage: built-in stage: " + err.Error())
		}
		list = append(list, Named{Name: spec.Name, Title: spec.Title, Circuit: spec.Circuit})
	}
	return list
}

// Lookup returns the built-in stage of that name, or an error that lists the
// names there are.
func Lookup(name string) (Spec, error) {
	if !slices.Contains(builtinNames(), name) {
		return Spec{}, fmt.Errorf("%q is no built-in stage; there are: %s", name, strings.Join(builtinNames(), ", "))
	}
	file := "builtin/" + name + ".toml"
	f, err := builtinFiles.Open(file)
	if err != nil {
		return Spec{}, err
	}
	defer f.Close()
	return Read(f, file)
}
