package quantity_test

import (
	"fmt"

	"quietcross/stage/quantity"
)

func ExampleParse() {
	ohms, err := quantity.Parse("2.2kohm", quantity.Ohm)
	fmt.Println(ohms, err)
	_, err = quantity.Parse("10mV", quantity.Ampere)
	fmt.Println(err)
	// Output:
	// 2200 <nil>
	// "10mV": unit "mV" is not the unit "A" with or without an SI prefix
}
