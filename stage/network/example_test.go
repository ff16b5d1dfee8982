package network_test

import (
	"fmt"

	"quietcross/stage/device"
	"quietcross/stage/network"
)

// A diode behind a resistor: its current, and how it follows the supply.
func ExampleCircuit() {
	c := network.New()
	supply, volts := c.Drive("supply", 5)
	anode := c.Node("anode")
	c.Add(
		network.Resistor{A: supply, B: anode, Ohms: 1e3},
		&network.Diode{Name: "d", Anode: anode, Law: device.NewDiode(1e-14, 0.02585)},
	)
	s := c.Compile()
	if err := s.Solve(); err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.3f mA, %.4f V across the diode\n", s.Current(volts)*1e3, s.Voltage(anode))
	fmt.Printf("%.2f mV more for 1 V more of supply\n", s.Derivative(anode, volts)*1e3)
	// Output:
	// 4.308 mA, 0.6925 V across the diode
	// 5.97 mV more for 1 V more of supply
}
