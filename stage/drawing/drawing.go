package drawing

import (
	"fmt"

	"quietcross/stage/circuits"
)

// Drawing is the drawing of one circuit with its parts as they are.
type Drawing struct {
	Parts []Part
	// Wires are polylines of horizontal and vertical stretches, at least two points
	// each. Wires meet where one's end lies on another; where they merely cross they
	// do not meet.
	Wires [][]Point
	// Dots are the junctions: places where three or more ways meet.
	Dots []Point
	// Nodes are the nodes of the circuit's network, every one but ground.
	Nodes []Node
}

// Node is a node of the circuit's network and where to write its voltage.
type Node struct {
	Name string // as in the network, such as "upper base"
	At   Point  // a point of its wires
	// Shown tells whether the voltage has a place in the drawing, Label.
	Shown bool
	Label Label
}

// makers holds the drawing of each circuit kind.
var makers = map[string]func(*sheet){
	"complementary-follower":        drawFollower,
	"complementary-multiplier":      drawMultiplier,
	"single-supply-follower":        drawSingleSupply,
	"darlington-follower":           drawDarlington,
	"complementary-feedback-pair":   drawFeedbackPair,
	"complementary-source-follower": drawSourceFollower,
	"single-transistor":             drawSingleTransistor,
	"single-transistor-capacitor":   drawSingleCapacitor,
	"transformer-push-pull":         drawPushPull,
}

// For returns the drawing of a circuit kind with its part values. Parts that the
// values leave out are not drawn, and each diode is. With forced set an ideal
// source stands in place of the bias parts. An unknown kind is an error that
// lists the kinds there are.
func For(kind string, parts circuits.Parts, forced bool) (Drawing, error) {
	k, err := circuits.Lookup(kind)
	if err != nil {
		return Drawing{}, err
	}
	draw, ok := makers[kind]
	if !ok {
		return Drawing{}, fmt.Errorf("circuit %s has no drawing", kind)
	}
	s := &sheet{parts: &parts, forced: forced, groups: k.Groups(&parts)}
	draw(s)
	s.designate()
	s.Dots = s.junctions()
	return s.Drawing, nil
}
