package stage

import (
	"fmt"
	"slices"

	"quietcross/stage/circuits"
	"quietcross/stage/network"
	"quietcross/stage/quantity"
)

// Biased is a stage with its bias set. Its methods solve the network and keep
// the last solution as the start of the next: it is for one goroutine at a time;
// give each its own by Fork.
type Biased struct {
	stage    *Stage
	setting  Setting
	made     made // how the setting was carried out
	net      *circuits.Network
	solver   *network.Solver
	point    OperatingPoint
	clipping [2]float64
}

// OperatingPoint is the stage with no signal.
type OperatingPoint struct {
	Bias        float64 // at the bias point, V
	Quiescent   float64 // mean collector current of the output devices, A
	Output      float64 // offset at the output, V
	Devices     []network.Operation
	Nodes       []NodeVoltage // every node of the circuit, ground first
	Supplies    []Rail
	SupplyPower float64 // from all supplies, W
	Dissipation float64 // in all devices, W
}

// NodeVoltage is one node of the circuit at rest.
type NodeVoltage struct {
	Name  string
	Volts float64 // against ground
}

// Rail is one supply.
type Rail struct {
	Name    string
	Volts   float64 // against ground
	Current float64 // out of the supply into the stage, A
}

// Power returns what the supply delivers, in watts.
func (r Rail) Power() float64 { return r.Volts * r.Current }

// Setting returns the setting that made this bias.
func (b *Biased) Setting() Setting { return b.setting }

// Source returns what biases the stage.
func (b *Biased) Source() Source {
	switch {
	case b.made.forced:
		return IdealSource
	case b.made.trimmer != nil:
		return TrimmedParts
	}
	return OwnParts
}

// Forced reports whether an ideal source stands in place of the bias parts, and its volts:
// [Bias] of the same volts is the same stage, to the bit. What is measured at the bias point
// of the solved circuit may be some rounding from them.
func (b *Biased) Forced() (volts float64, forced bool) { return b.made.volts, b.made.forced }

// Trim returns the part that was trimmed, and whether there is one.
func (b *Biased) Trim() (circuits.Trimmer, bool) {
	if b.made.trimmer == nil {
		return circuits.Trimmer{}, false
	}
	return *b.made.trimmer, true
}

// Trimmed returns the spec with the trimmed part at its value: as built, a stage of this
// spec has the current that was asked for. Where nothing was trimmed it is the stage's
// own spec.
func (b *Biased) Trimmed() Spec {
	spec := b.stage.spec
	spec.Parts = b.made.parts
	return spec
}

// Stage returns the stage that was biased, with its parts as built.
func (b *Biased) Stage() *Stage { return b.stage }

// Point returns the operating point with no signal.
func (b *Biased) Point() OperatingPoint { return b.point }

// Fork returns an equal Biased with its own solver, for another goroutine.
func (b *Biased) Fork() *Biased {
	other := *b
	other.solver = b.solver.Fork()
	return &other
}

// Transfer returns the output voltage at an input voltage and the incremental
// gain d(out)/d(in) there, exact to the solver's rounding. The error, which
// wraps network.ErrNoPoint, says at what input no solution was found. In a
// circuit with memory this is the midband curve: coupling capacitors hold their
// voltages and magnetising inductances their currents, as at rest.
func (b *Biased) Transfer(in float64) (out, gain float64, err error) {
	b.solver.Set(b.net.In, in)
	if err := b.solver.Solve(); err != nil {
		return 0, 0, fmt.Errorf("input %s: %w", quantity.Format(in, quantity.Volt), err)
	}
	return b.solver.Voltage(b.net.Out), b.solver.Derivative(b.net.Out, b.net.In), nil
}

// Devices returns the state of every device at an input voltage.
func (b *Biased) Devices(in float64) ([]network.Operation, error) {
	if _, _, err := b.Transfer(in); err != nil {
		return nil, err
	}
	return b.solver.Devices(), nil
}

// Outputs returns the places of the output devices in what Devices and the
// operating point list.
func (b *Biased) Outputs() []int { return slices.Clone(b.net.Outputs) }

// Rails returns the supplies and their currents at an input voltage.
func (b *Biased) Rails(in float64) ([]Rail, error) {
	if _, _, err := b.Transfer(in); err != nil {
		return nil, err
	}
	return b.rails(), nil
}

// rails reads the supplies at the last solution.
func (b *Biased) rails() []Rail {
	list := make([]Rail, 0, len(b.net.Supplies))
	for _, src := range b.net.Supplies {
		list = append(list, Rail{b.net.Circuit.SourceName(src), b.solver.Value(src), b.solver.Current(src)})
	}
	return list
}

// rest solves the stage with no signal and notes its operating point.
func (b *Biased) rest() error {
	out, _, err := b.Transfer(0)
	if err != nil {
		return err
	}
	p := OperatingPoint{
		Bias: b.net.BiasVolts(b.solver) + 0, Quiescent: quiescent(b.net, b.solver),
		Output: out, Devices: b.solver.Devices(),
	}
	for _, d := range p.Devices {
		p.Dissipation += d.Dissipation
	}
	for i := range b.net.Circuit.Nodes() {
		n := network.Node(i)
		p.Nodes = append(p.Nodes, NodeVoltage{b.net.Circuit.Name(n), b.solver.Voltage(n)})
	}
	p.Supplies = b.rails()
	for _, rail := range p.Supplies {
		p.SupplyPower += rail.Power()
	}
	b.point = p
	return nil
}
