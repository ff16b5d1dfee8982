// Package plot turns numbers into SVG: figures with linear or logarithmic axes,
// lines, steps, stems and heat maps.
//
// Output is deterministic text without scripts, web fonts or outside
// references. Traces differ by colour, dash and marker at once, so that a
// figure stays readable in greyscale and for colour-blind readers. Each trace
// is a group with the class "trace" and the attribute data-rung, by which a page
// can hide it. A label cannot inject markup: all text is escaped.
//
// Lengths inside a figure are SVG user units, named px here; they are CSS
// pixels when the figure is shown at its own width.
package plot
