package stage

import (
	"embed"
	"fmt"
	"slices"
	"strings"
)

// builtinFiles are demonstration stages; their part values are invented.
//
//go:embed builtin/*.toml
var builtinFiles embed.FS

// Named is a built-in stage.
type Named struct {
	Name, Title, Circuit string
}

// builtinOrder puts the built-in stages in an order for people.
var builtinOrder = []string{
	"pair-1w",
	"pair-12w",
	"pair-60w",
	"pair-12w-speaker",
	"pair-12w-feedback",
	"pair-12w-driven",
	"pair-12w-multiplier",
	"single-supply-5w",
	"darlington-30w",
	"feedback-pair-30w",
	"fet-30w",
	"single-class-a",
	"single-class-b",
	"single-capacitor",
	"push-pull-dead-zone",
	"push-pull-resistor",
	"push-pull-divider",
	"push-pull-diode",
	"push-pull-driven",
}

// Builtin lists the built-in stages. Their part values are for demonstration,
// physically sensible but no real part's.
func Builtin() []Named {
	list := make([]Named, 0, len(builtinOrder))
	for _, name := range builtinOrder {
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
	if !slices.Contains(builtinOrder, name) {
		return Spec{}, fmt.Errorf("%q is no built-in stage; there are: %s", name, strings.Join(builtinOrder, ", "))
	}
	file := "builtin/" + name + ".toml"
	f, err := builtinFiles.Open(file)
	if err != nil {
		return Spec{}, err
	}
	defer f.Close()
	return Read(f, file)
}
