// Package stage is a power output stage as a thing one can set and measure:
// volts in, volts out. A Spec (a stage file) names a circuit and its part
// values; New checks them; Set gives the stage a bias, finds its operating
// point and returns a Biased stage with its transfer curve, its clipping onset
// and all that an inspection tells.
//
// Everything is in SI base units. Nothing here knows of samples or decibels.
package stage

import (
	"fmt"
	"strings"

	"quietcross/stage/circuits"
)

// Schema is the version of the stage file that this package reads and writes.
const Schema = 1

// Spec is a stage: which circuit, with which part values, in SI base units.
type Spec struct {
	Name    string // short and unique, as in a command; letters, digits and hyphens
	Title   string // one line for people
	Circuit string // a circuit kind
	circuits.Parts
}

// Error is a refusal of one value of a stage file.
type Error struct {
	File string // name of the file, or empty
	Line int    // from 1; 0 where there is none
	Key  string // such as "supply.positive"
	Err  error  // what was found and what is legal
}

func (e *Error) Error() string {
	text := ""
	if e.File != "" {
		text = e.File + ":"
	}
	if e.Line > 0 {
		text += fmt.Sprintf("%d:", e.Line)
	}
	if text != "" {
		text += " "
	}
	if e.Key != "" {
		text += e.Key + ": "
	}
	return text + e.Err.Error()
}

func (e *Error) Unwrap() error { return e.Err }

// Faults are several refusals of one stage file. Unwrap gives each, an *Error.
type Faults []*Error

func (f Faults) Error() string {
	lines := make([]string, len(f))
	for i, e := range f {
		lines[i] = e.Error()
	}
	return strings.Join(lines, "\n")
}

// Unwrap returns the refusals.
func (f Faults) Unwrap() []error {
	list := make([]error, len(f))
	for i, e := range f {
		list[i] = e
	}
	return list
}

func (f *Faults) add(key string, err error) { *f = append(*f, &Error{Key: key, Err: err}) }

// err returns nil for no faults, a single one as it is, and else all of them.
func (f Faults) err() error {
	switch len(f) {
	case 0:
		return nil
	case 1:
		return f[0]
	}
	return f
}

// Check returns nil for a legal spec, else what is not legal with key and legal range:
// an *Error, or [Faults] where there are several.
func (s Spec) Check() error { return s.faults().err() }

// faults lists what is not legal. Values that are illegal together are looked for once
// they are legal one by one.
func (s Spec) faults() (list Faults) {
	if err := checkName(s.Name); err != nil {
		list.add("name", err)
	}
	if err := checkTitle(s.Title); err != nil {
		list.add("title", err)
	}
	kind, err := circuits.Lookup(s.Circuit)
	if err != nil {
		list.add("circuit", err)
		return list
	}
	for _, group := range kind.Groups(&s.Parts) {
		if group.Absent() {
			continue
		}
		for _, field := range group.Fields {
			if err := checkField(field); err != nil {
				list.add(group.Name+"."+field.Key, err)
			}
		}
	}
	if list == nil {
		if err := kind.Check(&s.Parts); err != nil {
			list.add("", err)
		}
	}
	return list
}

func checkField(f circuits.Field) error {
	switch v := f.Value.(type) {
	case *float64:
		return f.Range.Check(*v)
	case *int:
		return f.Range.Check(float64(*v))
	}
	panic(fmt.Sprintf("stage: field %s has a value of type %T", f.Key, f.Value))
}

// checkName allows what is safe as a file name and a command argument.
func checkName(name string) error {
	if len(name) < 1 || len(name) > 64 {
		return fmt.Errorf("%d bytes long; legal are 1 to 64", len(name))
	}
	for _, r := range name {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-', r == '_', r == '.':
		default:
			return fmt.Errorf("%q holds %q; legal are letters, digits, hyphen, underscore and point", name, r)
		}
	}
	return nil
}

func checkTitle(title string) error {
	if len(title) > 200 {
		return fmt.Errorf("%d bytes long; legal are up to 200", len(title))
	}
	for _, r := range title {
		if r < ' ' || r == 0x7f || r == 0xfffd {
			return fmt.Errorf("holds the control character %q; legal is one line of text", r)
		}
	}
	return nil
}
