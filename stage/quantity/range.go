package quantity

import (
	"fmt"
	"math"
)

// Range is the legal range of a quantity, both ends included. Zero, when not
// empty, says what the value zero means beside the range ("infinite", "none").
type Range struct {
	Unit     Unit
	Min, Max float64
	Zero     string
}

// Check returns an error that names the legal range when v is outside of it or
// not a number.
func (r Range) Check(v float64) error {
	if r.Zero != "" && v == 0 {
		return nil
	}
	if v >= r.Min && v <= r.Max {
		return nil
	}
	found := "not a number"
	switch {
	case math.IsInf(v, 0):
		found = "infinite"
	case !math.IsNaN(v):
		found = Format(v, r.Unit)
	}
	return fmt.Errorf("%s is outside the legal range, %s", found, r)
}

// String writes the range as "0.1ohm to 10kohm, or 0: none".
func (r Range) String() string {
	text := Format(r.Min, r.Unit) + " to " + Format(r.Max, r.Unit)
	if r.Zero != "" {
		text += ", or 0: " + r.Zero
	}
	return text
}
