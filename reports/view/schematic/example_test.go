package schematic_test

import (
	"fmt"

	"quietcross/reports/view/schematic"
	"quietcross/stage"
)

// A stage at a quiescent current of 20 mA, as a file that stands alone.
func ExampleFigure_Document() {
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		fmt.Println(err)
		return
	}
	st, err := stage.New(spec)
	if err != nil {
		fmt.Println(err)
		return
	}
	setting := stage.Quiescent(20e-3)
	biased, err := st.Set(setting)
	if err != nil {
		fmt.Println(err)
		return
	}
	f := &schematic.Figure{Name: "pair", Spec: biased.Trimmed(), Setting: setting, Point: biased.Point()}
	document, err := f.Document()
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(document[:38])
	// Output: <?xml version="1.0" encoding="UTF-8"?>
}
