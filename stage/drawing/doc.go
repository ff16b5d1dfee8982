// Package drawing holds the circuit drawing of every circuit kind, as plain data
// on a grid: placed symbols, wires, junction dots, and the places where solved
// values are written. It draws nothing itself; a report makes a picture of it.
//
// Symbols follow the shapes of IEC 60617 (from memory; the standard's text was
// not at hand): rectangular resistors, transistors with their emitter arrow,
// earth, transformers as rows of half circles along a core. The signal runs from
// left to right, the positive supply is on top, and currents at rest flow
// downward where the circuit allows.
//
// One grid unit is the smallest distance between two parallel wires. X grows to
// the right and Y downward.
package drawing
