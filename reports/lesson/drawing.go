package lesson

import (
	"fmt"
	"html/template"
	"slices"

	"quietcross/reports/view/schematic"
	"quietcross/stage"
	"quietcross/stage/circuits"
	"quietcross/stage/drawing"
)

// A drawing shows which way the current of each half-wave takes. The way is found in the
// drawing itself: from a supply through the output device of that half and the load to
// earth, or back, by the fewest wires and symbols. Other devices and what biases them are
// no way for it.

// drawn returns the plain drawing of a state, with the way of each half-wave.
func (x *state) drawn(name string, ways bool) (template.HTML, error) {
	b := x.evaluation.Biased()
	f := schematic.Figure{Name: name, Spec: b.Trimmed(), Setting: x.setting, Point: b.Point(), Plain: true}
	if ways {
		for i, output := range b.Outputs() {
			way, err := x.way(b.Point().Devices[output].Name, i == 0)
			if err != nil {
				return "", err
			}
			f.Ways = append(f.Ways, schematic.Way{Class: sideNames[i], Shift: sideShift * float64(2*i-1), Points: way})
		}
	}
	svg, err := f.SVG()
	return template.HTML(svg), err
}

// sideShift is how far each way stands beside its wires, px.
const sideShift = 4

// sideNames are the classes of the two ways.
var sideNames = [...]string{"upper", "lower"}

// way finds the way of the half-wave in which a device conducts.
func (x *state) way(device string, upper bool) ([]drawing.Point, error) {
	d, err := circuits.Draw(x.spec.Circuit, x.spec.Parts, x.evaluation.Source == stage.IdealSource)
	if err != nil {
		return nil, err
	}
	net := netOf(d)
	at := slices.IndexFunc(d.Parts, func(p drawing.Part) bool { return p.Device == device && isTransistor(p.Kind) })
	if at < 0 {
		return nil, fmt.Errorf("%s: %s is not drawn", x.spec.Name, device)
	}
	in, out := terminals(d.Parts[at])
	var rails, earth []drawing.Point
	for _, p := range d.Parts {
		switch p.Kind {
		case drawing.Rail:
			rails = append(rails, p.At)
		case drawing.Ground:
			earth = append(earth, p.At)
		}
	}
	from, to := [][]drawing.Point{rails, earth}, [][]drawing.Point{earth, rails}
	if !upper {
		slices.Reverse(from)
	}
	begin, end := net.shortest(from, in, true), net.shortest(to, out, false)
	if begin == nil || end == nil {
		return nil, fmt.Errorf("%s: no way for the current of %s", x.spec.Name, device)
	}
	return append(begin, end...), nil
}

func isTransistor(k drawing.Kind) bool {
	return k == drawing.NPN || k == drawing.PNP || k == drawing.NChannel || k == drawing.PChannel
}

// terminals returns where a device's current goes in and where it comes out.
func terminals(p drawing.Part) (in, out drawing.Point) {
	switch p.Kind {
	case drawing.NPN:
		return p.Pin("collector"), p.Pin("emitter")
	case drawing.PNP:
		return p.Pin("emitter"), p.Pin("collector")
	case drawing.NChannel:
		return p.Pin("drain"), p.Pin("source")
	}
	return p.Pin("source"), p.Pin("drain")
}

// A net is the places of a drawing and what joins them.
type net map[drawing.Point][]drawing.Point

func netOf(d drawing.Drawing) net {
	n := net{}
	var places []drawing.Point
	for _, w := range d.Wires {
		places = append(places, w...)
	}
	for _, p := range d.Parts {
		for _, pin := range p.Pins() {
			places = append(places, pin.At)
		}
	}
	for _, w := range d.Wires {
		for i := 1; i < len(w); i++ {
			n.wire(w[i-1], w[i], places)
		}
	}
	for _, p := range d.Parts {
		n.through(p)
	}
	return n
}

func (n net) join(a, b drawing.Point) {
	n[a] = append(n[a], b)
	n[b] = append(n[b], a)
}

// wire joins the places on a straight stretch, each with the next.
func (n net) wire(a, b drawing.Point, places []drawing.Point) {
	var on []drawing.Point
	for _, p := range places {
		if between(a.X, p.X, b.X) && between(a.Y, p.Y, b.Y) && (p.X-a.X)*(b.Y-a.Y) == (p.Y-a.Y)*(b.X-a.X) {
			on = append(on, p)
		}
	}
	distance := func(p drawing.Point) int { return max(p.X-a.X, a.X-p.X) + max(p.Y-a.Y, a.Y-p.Y) }
	slices.SortFunc(on, func(p, q drawing.Point) int { return distance(p) - distance(q) })
	on = slices.Compact(on)
	for i := 1; i < len(on); i++ {
		n.join(on[i-1], on[i])
	}
}

func between(a, p, b int) bool { return min(a, b) <= p && p <= max(a, b) }

// through joins the terminals of what carries the load's current.
func (n net) through(p drawing.Part) {
	switch p.Kind {
	case drawing.Resistor, drawing.Capacitor, drawing.Inductor, drawing.Loudspeaker:
		n.join(p.Pin("a"), p.Pin("b"))
	case drawing.Transformer:
		for side, names := range [][3]string{{"p1", "pt", "p2"}, {"s1", "st", "s2"}} {
			if p.Taps[side] {
				n.join(p.Pin(names[0]), p.Pin(names[1]))
				n.join(p.Pin(names[1]), p.Pin(names[2]))
			} else {
				n.join(p.Pin(names[0]), p.Pin(names[2]))
			}
		}
	}
}

// shortest returns the shortest way between a place and any of a group, of the first group
// that is reached; from tells that the way begins at the group.
func (n net) shortest(groups [][]drawing.Point, place drawing.Point, from bool) []drawing.Point {
	for _, group := range groups {
		before := map[drawing.Point]drawing.Point{place: place}
		queue := []drawing.Point{place}
		for len(queue) > 0 {
			p := queue[0]
			queue = queue[1:]
			if slices.Contains(group, p) {
				way := []drawing.Point{p}
				for p != place {
					p = before[p]
					way = append(way, p)
				}
				if !from {
					slices.Reverse(way)
				}
				return way
			}
			for _, q := range n[p] {
				if _, seen := before[q]; !seen {
					before[q] = p
					queue = append(queue, q)
				}
			}
		}
	}
	return nil
}
