// Package schematic turns the drawing of a stage's circuit and its solved
// operating point into a picture: part values, node voltages, the current and
// heat of every device, and which devices conduct with no signal.
//
// A picture is an SVG element for a page that carries [Style], or a file that
// stands alone. It needs no font but the reader's own, has a title and a
// description for those who cannot see it, and is the same bytes for the same
// input. All text in it is escaped.
package schematic
