package circuits_test

import (
	"fmt"

	"quietcross/stage"
	"quietcross/stage/circuits"
	"quietcross/stage/drawing"
)

// The transistors and diodes of a stage's drawing, with the devices of its
// operating point that they show.
func ExampleDraw() {
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		fmt.Println(err)
		return
	}
	d, err := circuits.Draw(spec.Circuit, spec.Parts, false)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, p := range d.Parts {
		if p.Device != "" && p.Kind != drawing.Rail {
			fmt.Printf("%s at %d,%d shows %q\n", p.Name, p.At.X, p.At.Y, p.Device)
		}
	}
	// Output:
	// D1 at 0,-4 shows "upper diodes"
	// D2 at 0,4 shows "lower diodes"
	// Q1 at 9,-9 shows "upper"
	// Q2 at 9,9 shows "lower"
}
