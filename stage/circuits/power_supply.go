package circuits

import (
	"math"

	"quietcross/stage/network"
)

// The supply of the rails: resistance, reservoir, and the rectifier that makes the ripple.

// PowerSupply is what stands between the transformer and each rail. The voltages of
// Supply are those of the reservoirs with no load.
//
// The rectifier is a resistance that is there for a part of each half of the mains
// cycle. With a load of constant current I it gives in closed form, with the time T =
// 1/(2 mains) between crests and the part d of it that conducts,
//
//	ripple, peak to peak:  I T (1-d)/C          (textbooks: I/(2 f C), d small)
//	mean drop:             I (R d (2-d) + (1-d)^2 T/(2C) coth(T/(2RC)))
//
// which for a large reservoir is I R.
type PowerSupply struct {
	Fitted     bool
	Ohms       float64 // mean voltage drop over mean current with a large reservoir
	Farads     float64 // reservoir of each rail; 0: none
	Mains      float64 // Hz; 0: no ripple
	Conduction float64 // part of the time in which the rectifier conducts
}

// Ripples reports whether the supply has the mains' ripple.
func (s *PowerSupply) Ripples() bool { return s.Fitted && s.Farads > 0 && s.Mains > 0 }

// Effective returns the mean voltage drop of a rail over its mean current, ohms.
func (s *PowerSupply) Effective() float64 {
	if !s.Fitted {
		return 0
	}
	if !s.Ripples() {
		return s.Ohms
	}
	d, half := s.Conduction, s.half()
	return s.Ohms*d*(2-d) + (1-d)*(1-d)*half/(2*s.Farads)/math.Tanh(half/(2*s.Ohms*s.Farads))
}

// Ripple returns the ripple, peak to peak in volts, under a constant current.
func (s *PowerSupply) Ripple(amperes float64) float64 {
	if !s.Ripples() {
		return 0
	}
	return amperes * s.half() * (1 - s.Conduction) / s.Farads
}

// half is the time between two crests of the mains, s.
func (s *PowerSupply) half() float64 { return 1 / (2 * s.Mains) }

// Gate returns the rectifier's conductance re that of Effective, as its mean about a time
// over a width, both in seconds: steps of that width keep the charge of each crest
// whatever their phase. It begins in the middle between two crests.
func (s *PowerSupply) Gate(seconds, width float64) float64 {
	phase, reach := math.Mod(seconds/s.half(), 1), width/s.half()/2
	share := 0.0
	for _, crest := range []float64{-0.5, 0.5, 1.5} {
		from, to := max(phase-reach, crest-s.Conduction/2), min(phase+reach, crest+s.Conduction/2)
		share += max(0, to-from) / (2 * reach)
	}
	return s.Effective() / (s.Ohms * s.Conduction) * share
}

// Unloaded stands before the name of a rail in that of the source behind its supply.
const Unloaded = "unloaded "

// supplied makes a rail of that name: driven, or behind what the supply has.
func supplied(c *network.Circuit, s *PowerSupply, name string, volts float64) (network.Node, network.Source) {
	if !s.Fitted {
		return c.Drive(name, volts)
	}
	unloaded, source := c.Drive(Unloaded+name, volts)
	rail := c.Node(name)
	if s.Farads > 0 {
		c.Add(network.Capacitor{A: rail, Farads: s.Farads})
	}
	if !s.Ripples() {
		c.Add(network.Resistor{A: unloaded, B: rail, Ohms: s.Ohms})
		return rail, source
	}
	gate, _ := c.Drive(gateOf(Unloaded+name), 1)
	c.Add(network.Charger{From: unloaded, To: rail, Gate: gate, Ohms: s.Effective()})
	return rail, source
}

// gateOf names the node that turns a rectifier on.
func gateOf(supply string) string { return supply + "'s rectifier" }

// gates finds the sources that turn the rectifiers on.
func (n *Network) gates(s *PowerSupply) {
	if !s.Ripples() {
		return
	}
	for _, supply := range n.Supplies {
		gate, _ := n.Circuit.Driven(n.Circuit.Node(gateOf(n.Circuit.SourceName(supply))))
		n.Gates = append(n.Gates, gate)
	}
}
