// Package circuits holds the output-stage circuits. Each kind says which part
// values it uses, with their legal ranges, and builds a network from them.
//
// A kind is one file: its part values and their groups in a stage file, its network,
// the part of its bias that a builder trims, its drawing, what it is called and what
// its people call its states, and the names of its built-in stages. It registers
// itself. Nothing else in the program knows one circuit from another.
package circuits

import (
	"fmt"
	"slices"
	"strings"

	"quietcross/stage/network"
)

// A registered circuit and its place in an order for people.
type registered struct {
	rank int
	kind *Kind
}

// kinds holds every circuit.
var kinds []registered

// register makes a circuit known. Lower ranks come first.
func register(rank int, k *Kind) *Kind {
	kinds = append(kinds, registered{rank, k})
	return k
}

// Kind is one circuit.
type Kind struct {
	Name  string // as in a stage file, such as "complementary-follower"
	Title string // one line for people
	About string // a paragraph for people: how it works and what its bias does
	// Demos are the built-in stages of this circuit, in an order for people.
	Demos []string
	// groups are its tables in a stage file, those of a driver left out; the first
	// two are supply and source.
	groups func(p *Parts) []Group
	// check refuses part values that are legal one by one but not together; nil: none.
	check func(p *Parts) error
	// build makes the network, without the driver before it.
	build func(p *Parts, forced bool, t Temperatures) *Network
	// draw makes the drawing.
	draw func(s *sheet)
	// span is the peak input, in volts, beyond which the stage without a driver is
	// surely clipped.
	span func(p *Parts) float64
	// trim is the part of the bias that a builder turns; it returns nil for a stage
	// without bias parts.
	trim func(p *Parts) *Trim
	// driver is the way from a driver into the stage.
	driver driverCoupling
	// MaximumBias is the maximum bias, in volts, that an ideal source may force.
	// It must be high enough for any quiescent current of interest.
	MaximumBias float64
	// Reference is the quiescent current (A) that the circuit's theory holds best
	// at junction temperatures t; nil or 0 when there is none.
	Reference func(p *Parts, t Temperatures) float64
	// States are what the circuit's people call the conditions of a bias where that
	// differs from a pair's words: by condition, such as "optimum".
	States map[string]string
	// PeakCurrent is about what an output device carries at full swing, A.
	PeakCurrent func(p *Parts) float64
}

// Groups returns the tables of a stage file of this kind, which point into p.
func (k *Kind) Groups(p *Parts) []Group {
	return append(slices.Insert(k.groups(p), 2, driverGroups(k.driver, p)...), k.limitGroups(p)...)
}

// Check refuses part values that are legal one by one but not together.
func (k *Kind) Check(p *Parts) error {
	if err := checkLimits(p); err != nil {
		return err
	}
	if p.Driver.Fitted {
		if err := k.checkDriver(p); err != nil {
			return err
		}
		behind := *p
		behind.Source.Ohms = 0 // the driver has it
		p = &behind
	}
	if k.check == nil {
		return nil
	}
	return k.check(p)
}

// Build makes the network, as built or with an ideal source as its bias, with its
// devices at t. The output devices are the first.
func (k *Kind) Build(p *Parts, forced bool, t Temperatures) *Network {
	most := p.most()
	n := k.build(&most, forced, t)
	if p.Driver.Fitted {
		n.addDriver(k.driver, p, t)
	}
	n.Out = n.speaker
	n.gates(&p.PowerSupply)
	n.outfit(p, t)
	return n
}

// Span is the peak input, in volts, beyond which the stage is surely clipped. That
// of a stage with a driver lies far out; see [Kind.Inverts].
func (k *Kind) Span(p *Parts) float64 {
	if p.Driver.Fitted {
		return driverSpan(p)
	}
	return k.span(p)
}

// Inverts reports whether the output falls while the input rises: behind a driver
// whose collector drives the stage.
func (k *Kind) Inverts(p *Parts) bool {
	return p.Driver.Fitted && k.driver != driverTransformer
}

// Kinds returns every circuit kind, in an order for people.
func Kinds() []*Kind {
	sorted := slices.SortedFunc(slices.Values(kinds), func(a, b registered) int { return a.rank - b.rank })
	list := make([]*Kind, len(sorted))
	for i, r := range sorted {
		list[i] = r.kind
	}
	return list
}

// Lookup returns the kind of that name, or an error that lists the names there
// are.
func Lookup(name string) (*Kind, error) {
	var names []string
	for _, k := range Kinds() {
		if k.Name == name {
			return k, nil
		}
		names = append(names, k.Name)
	}
	return nil, fmt.Errorf("%q is no circuit; there are: %s", name, strings.Join(names, ", "))
}

// Temperatures are the absolute junction temperatures, in kelvins, at which a
// network is built.
type Temperatures struct {
	Upper, Lower float64 // output devices
	Driver       float64 // devices that drive them
	Bias         float64 // bias diodes or transistor
}

// Uniform returns equal temperatures everywhere.
func Uniform(kelvin float64) Temperatures {
	return Temperatures{Upper: kelvin, Lower: kelvin, Driver: kelvin, Bias: kelvin}
}

// Network is a built circuit with its ports named.
type Network struct {
	Circuit *network.Circuit
	In      network.Source // the signal, volts; no signal is 0 V
	Out     network.Node   // the loudspeaker terminal, against ground
	// Bias is the bias port: its voltage is that of plus against minus. Forced
	// lists the ideal sources that make it up, empty in the as-built form.
	BiasPlus, BiasMinus network.Node
	Forced              []Share
	// Aids are ideal sources that a forced bias brings with it.
	Aids     []network.Source
	Supplies []network.Source
	// Load delivers the load's current at no volts.
	Load network.Source
	// high and low are the nodes of the upper supply and of the lower one, which is
	// ground on a single supply.
	high, low network.Node
	// sensors set the temperature of one device each.
	sensors []func(t Temperatures)
	// Amplifier is the output of the feedback amplifier, nil without one.
	Amplifier *Feed
	// Outputs are the output devices by their place in Solver.Devices: the one at
	// the temperature Upper and then, where there is one, that at Lower. Of parallel
	// devices they are those that take the most current, and Sides lists all, side by
	// side.
	Outputs []int
	Sides   [][]int
	// Gates are the sources that turn the rectifiers of the supplies on and off, by
	// PowerSupply.Gate; none without ripple.
	Gates []network.Source
	// speaker is the loudspeaker terminal, which is Out in the end.
	speaker network.Node
}

// Feed is where an amplifier delivers energy: its output and the source of no volts
// that carries its current.
type Feed struct {
	Node  network.Node
	Meter network.Source
}

// Share is the part of the bias voltage that one of its sources carries.
type Share struct {
	Source network.Source
	Part   float64
}

// All returns the places of all output devices, parallel ones included.
func (n *Network) All() []int { return slices.Concat(n.Sides...) }

// Inputs lists the sources that deliver energy beside the supplies: the signal, an
// ideal bias and its aids.
func (n *Network) Inputs() []network.Source {
	list := append([]network.Source{n.In}, n.Aids...)
	for _, share := range n.Forced {
		list = append(list, share.Source)
	}
	return list
}

// SetBias forces the bias voltage on a solver of this network. It panics on a
// network built as is.
func (n *Network) SetBias(s *network.Solver, volts float64) {
	if len(n.Forced) == 0 {
		panic("circuits: bias of an as-built network cannot be set")
	}
	for _, share := range n.Forced {
		s.Set(share.Source, share.Part*volts)
	}
}

// BiasVolts returns the voltage across the bias port at a solver's solution.
func (n *Network) BiasVolts(s *network.Solver) float64 {
	return s.Voltage(n.BiasPlus) - s.Voltage(n.BiasMinus)
}
