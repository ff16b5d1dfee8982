package schematic

import (
	"quietcross/stage/drawing"
	"quietcross/stage/network"
)

// conducting is the current from which a device counts as conducting at rest, A:
// under it a power device carries little more than its leakage (common practice).
const conducting = 1e-4

// operation returns the solved state of the device that a part shows.
func (f *Figure) operation(p drawing.Part) (network.Operation, bool) {
	switch p.Kind {
	case drawing.Diode, drawing.NPN, drawing.PNP, drawing.NChannel, drawing.PChannel:
		for _, o := range f.Point.Devices {
			if o.Name == p.Device {
				return o, true
			}
		}
	}
	return network.Operation{}, false
}

// conducts reports whether a part is a device that conducts at rest.
func (f *Figure) conducts(p drawing.Part) bool {
	o, ok := f.operation(p)
	return ok && o.Current >= conducting
}

// volts returns the voltage of a node of the network.
func (f *Figure) volts(node string) (float64, bool) {
	for _, n := range f.Point.Nodes {
		if n.Name == node {
			return n.Volts, true
		}
	}
	return 0, false
}
