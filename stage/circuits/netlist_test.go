package circuits_test

import (
	"fmt"
	"slices"
	"testing"

	"quietcross/stage/circuits"
	"quietcross/stage/drawing"
	"quietcross/stage/network"
)

// leakOhms is the leakage that circuits put across a coupling capacitor; it is
// part of the capacitor and not drawn.
const leakOhms = 10e6

// networkNetlist writes every element of a built network as [traced.netlist]
// writes the parts of a drawing.
func networkNetlist(t *testing.T, n *circuits.Network, p *circuits.Parts) []string {
	t.Helper()
	c := n.Circuit
	name := func(node network.Node) string {
		switch c.Name(node) {
		case "load": // behind the meter of the load's current
			node = n.Out
		case "amplifier": // behind the meter of the amplifier's current
			return "tap"
		}
		return c.Name(node)
	}
	var list []string
	for node := range c.Nodes() {
		if s, ok := c.Driven(network.Node(node)); ok {
			list = append(list, fmt.Sprintf("driven %s: %s > ground", c.SourceName(s), c.Name(network.Node(node))))
		}
	}
	for _, element := range c.Elements() {
		if line := elementLine(t, c, n, p, name, element); line != "" {
			list = append(list, line)
		}
	}
	slices.Sort(list)
	return list
}

func elementLine(t *testing.T, c *network.Circuit, n *circuits.Network, p *circuits.Parts, name func(network.Node) string, element network.Element) string {
	t.Helper()
	switch e := element.(type) {
	case network.Resistor:
		if e.Ohms == leakOhms {
			return ""
		}
		return twoEnds("resistor", e.Ohms, name(e.A), name(e.B))
	case network.Capacitor:
		return twoEnds("capacitor", e.Farads, name(e.A), name(e.B))
	case network.Inductor:
		return twoEnds("inductor", e.Henries, name(e.A), name(e.B))
	case network.Loudspeaker:
		return twoEnds("loudspeaker", e.Ohms, name(e.A), name(e.B))
	case *network.Diode:
		return fmt.Sprintf("diode %s: %s > %s", e.Name, name(e.Anode), name(e.Cathode))
	case *network.Bipolar:
		return fmt.Sprintf("bipolar %s %v: %s, %s, %s", e.Name, e.Polarity == network.NPN, name(e.Collector), name(e.Base), name(e.Emitter))
	case *network.FieldEffect:
		return fmt.Sprintf("channel %s %v: %s, %s, %s", e.Name, e.Polarity == network.NPN, name(e.Drain), name(e.Gate), name(e.Source))
	case network.VoltageSource:
		if e.Source == n.Load || n.Amplifier != nil && e.Source == n.Amplifier.Meter {
			return ""
		}
		return fmt.Sprintf("source %s: %s > %s", c.SourceName(e.Source), name(e.Plus), name(e.Minus))
	case network.Amplifier:
		return fmt.Sprintf("amplifier %g: %s, %s > %s", e.Gain, name(e.Plus), name(e.Minus), name(e.Out))
	case network.Transformer:
		var windings []string
		for _, w := range e.Windings {
			windings = append(windings, name(w.A)+" > "+name(w.B))
		}
		last := e.Windings[len(e.Windings)-1]
		return transformerLine(e.Windings[0].Turns/last.Turns, windings)
	}
	t.Fatalf("the network holds a %T, which no drawing knows", element)
	return ""
}

// TestDrawingsAreTheirNetworks holds what the wires of each drawing join against
// the network that the solver solves, element by element.
func TestDrawingsAreTheirNetworks(t *testing.T) {
	for _, c := range everyCase(t) {
		t.Run(c.name, func(t *testing.T) {
			kind, err := circuits.Lookup(c.kind)
			if err != nil {
				t.Fatal(err)
			}
			d, err := circuits.Draw(c.kind, c.parts, c.forced)
			if err != nil {
				t.Fatal(err)
			}
			net := kind.Build(&c.parts, c.forced, circuits.Uniform(298))
			drawn, built := trace(t, d).netlist(t, d), networkNetlist(t, net, &c.parts)
			for _, line := range drawn {
				if !slices.Contains(built, line) {
					t.Errorf("drawn, but not in the network: %s", line)
				}
			}
			for _, line := range built {
				if !slices.Contains(drawn, line) {
					t.Errorf("in the network, but not drawn: %s", line)
				}
			}
			if len(drawn) != len(built) {
				t.Errorf("%d parts drawn, %d elements built", len(drawn), len(built))
			}
		})
	}
}

// terminals are the nodes that a drawing may show in several places.
var terminals = []string{"supply", "upper rail", "lower rail"}

// TestNodesAreNamedOnce holds the nodes of each drawing against those of the
// network: every one but ground and those behind a meter, and no two nets by one
// name but those of supply terminals.
func TestNodesAreNamedOnce(t *testing.T) {
	for _, c := range everyCase(t) {
		d, err := circuits.Draw(c.kind, c.parts, c.forced)
		if err != nil {
			t.Fatal(err)
		}
		kind, err := circuits.Lookup(c.kind)
		if err != nil {
			t.Fatal(err)
		}
		net := kind.Build(&c.parts, c.forced, circuits.Uniform(298)).Circuit
		nets := trace(t, d)
		places := map[string][]drawing.Point{}
		for _, node := range d.Nodes {
			if root := nets.root(node.At); !slices.Contains(places[node.Name], root) {
				places[node.Name] = append(places[node.Name], root)
			}
		}
		for i := 1; i < net.Nodes(); i++ {
			name := net.Name(network.Node(i))
			roots := places[name]
			delete(places, name)
			if name != "load" && name != "amplifier" && len(roots) != 1 && !(slices.Contains(terminals, name) && len(roots) > 1) {
				t.Errorf("%s: node %q has %d nets", c.name, name, len(roots))
			}
		}
		for name := range places {
			t.Errorf("%s: node %q is not in the network", c.name, name)
		}
	}
}
