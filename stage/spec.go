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

// Check returns the first value of the spec that is not legal, as an *Error
// with its key and legal range, or nil.
func (s Spec) Check() error {
	kind, err := circuits.Lookup(s.Circuit)
	if err != nil {
		return &Error{Key: "circuit", Err: err}
	}
	if err := checkName(s.Name); err != nil {
		return &Error{Key: "name", Err: err}
	}
	if err := checkTitle(s.Title); err != nil {
		return &Error{Key: "title", Err: err}
	}
	for _, group := range kind.Groups(&s.Parts) {
		if group.Absent() {
			continue
		}
		for _, field := range group.Fields {
			if err := checkField(field); err != nil {
				return &Error{Key: group.Name + "." + field.Key, Err: err}
			}
		}
	}
	if err := kind.Check(&s.Parts); err != nil {
		return &Error{Err: err}
	}
	return nil
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
