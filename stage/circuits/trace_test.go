package circuits_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"quietcross/stage/drawing"
)

// traced is a drawing followed with a finger: every grid point of wires and
// terminals belongs to a net, found anew here from dots and wires alone.
type traced struct {
	parent map[drawing.Point]drawing.Point
	names  map[drawing.Point][]string
}

func (n *traced) root(p drawing.Point) drawing.Point {
	for n.parent[p] != p {
		p = n.parent[p]
	}
	return p
}

func (n *traced) join(a, b drawing.Point) { n.parent[n.root(a)] = n.root(b) }

func (n *traced) know(p drawing.Point) {
	if _, ok := n.parent[p]; !ok {
		n.parent[p] = p
	}
}

// trace finds the nets. Two wires belong together where both have an end, or where
// a dot stands on both; a terminal belongs to the wire or terminal it touches.
func trace(t *testing.T, d drawing.Drawing) *traced {
	t.Helper()
	n := &traced{parent: map[drawing.Point]drawing.Point{}, names: map[drawing.Point][]string{}}
	for _, w := range d.Wires {
		for _, p := range w {
			n.know(p)
			n.join(p, w[0])
		}
	}
	for _, p := range d.Parts {
		for _, pin := range p.Pins() {
			n.know(pin.At)
		}
	}
	for _, dot := range d.Dots {
		n.know(dot)
		for _, w := range d.Wires {
			if dot == w[0] || dot == w[len(w)-1] || passes(w, dot) {
				n.join(dot, w[0])
			}
		}
	}
	for _, p := range d.Parts {
		if p.Kind == drawing.Ground {
			n.name(p.At, "ground")
		}
	}
	for _, node := range d.Nodes {
		if _, ok := n.parent[node.At]; !ok {
			t.Errorf("node %q stands at %v, where no wire ends and no terminal is", node.Name, node.At)
			continue
		}
		n.name(node.At, node.Name)
	}
	return n
}

func (n *traced) name(at drawing.Point, name string) {
	root := n.root(at)
	if !slices.Contains(n.names[root], name) {
		n.names[root] = append(n.names[root], name)
	}
}

// net returns the one name of the net at a point.
func (n *traced) net(t *testing.T, at drawing.Point) string {
	t.Helper()
	names := n.names[n.root(at)]
	if len(names) != 1 {
		t.Errorf("the net at %v is called %q, want one name", at, names)
		return fmt.Sprint(names)
	}
	return names[0]
}

// netlist writes every part of a drawing with the nets it joins, sorted.
func (n *traced) netlist(t *testing.T, d drawing.Drawing) []string {
	t.Helper()
	var list []string
	for _, p := range d.Parts {
		if line := n.line(t, p); line != "" {
			list = append(list, line)
		}
	}
	slices.Sort(list)
	return list
}

func (n *traced) line(t *testing.T, p drawing.Part) string {
	t.Helper()
	at := func(pin string) string { return n.net(t, p.Pin(pin)) }
	switch p.Kind {
	case drawing.Resistor:
		return twoEnds("resistor", p.Value, at("a"), at("b"))
	case drawing.Capacitor:
		return twoEnds("capacitor", p.Value, at("a"), at("b"))
	case drawing.Inductor:
		return twoEnds("inductor", p.Value, at("a"), at("b"))
	case drawing.Loudspeaker:
		return twoEnds("loudspeaker", p.Value, at("a"), at("b"))
	case drawing.Diode:
		return fmt.Sprintf("diode %s: %s > %s", p.Device, at("anode"), at("cathode"))
	case drawing.NPN, drawing.PNP:
		return fmt.Sprintf("bipolar %s %v: %s, %s, %s", p.Device, p.Kind == drawing.NPN, at("collector"), at("base"), at("emitter"))
	case drawing.NChannel, drawing.PChannel:
		return fmt.Sprintf("channel %s %v: %s, %s, %s", p.Device, p.Kind == drawing.NChannel, at("drain"), at("gate"), at("source"))
	case drawing.Amplifier:
		return fmt.Sprintf("amplifier %g: %s, %s > %s", p.Value, at("plus"), at("minus"), at("out"))
	case drawing.Source:
		return fmt.Sprintf("source %s: %s > %s", p.Device, at("plus"), at("minus"))
	case drawing.Signal:
		return fmt.Sprintf("driven input: %s > %s", at("plus"), at("minus"))
	case drawing.Rail:
		if p.Device != "" {
			return fmt.Sprintf("driven %s: %s > ground", p.Device, at("a"))
		}
	case drawing.Transformer:
		var windings []string
		for _, w := range windingsOf(p) {
			windings = append(windings, at(w[0])+" > "+at(w[1]))
		}
		return transformerLine(p.Value, windings)
	}
	return ""
}

// windingsOf lists the ends of each winding, its start first.
func windingsOf(p drawing.Part) [][2]string {
	var list [][2]string
	for side, letter := range []string{"p", "s"} {
		first, last := letter+"1", letter+"2"
		if p.Dots[side] == drawing.Bottom {
			first, last = last, first
		}
		if p.Taps[side] {
			list = append(list, [2]string{first, letter + "t"}, [2]string{letter + "t", last})
		} else {
			list = append(list, [2]string{first, last})
		}
	}
	return list
}

func twoEnds(what string, value float64, a, b string) string {
	return fmt.Sprintf("%s %g: %s, %s", what, value, min(a, b), max(a, b))
}

func transformerLine(ratio float64, windings []string) string {
	slices.Sort(windings)
	return fmt.Sprintf("transformer %g: %s", ratio, strings.Join(windings, "; "))
}

// passes reports whether a wire goes through a point other than its ends.
func passes(wire []drawing.Point, at drawing.Point) bool {
	for i := 1; i < len(wire); i++ {
		a, b := wire[i-1], wire[i]
		on := at.X >= min(a.X, b.X) && at.X <= max(a.X, b.X) && at.Y >= min(a.Y, b.Y) && at.Y <= max(a.Y, b.Y)
		if on && at != wire[0] && at != wire[len(wire)-1] {
			return true
		}
	}
	return false
}
