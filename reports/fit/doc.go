// Package fit finds the bias and the part values of a stage file that best explain
// a recording of a real stage: a tone, or two, at one level or, much better,
// stepping through many. It says how well each value is known and what the recording cannot
// tell.
//
// The input need not be recorded. At each level the model is driven so that its
// output has the recorded tones, and harmonics or products are compared, each
// against its own uncertainty.
//
// A [Report] shows it: as a table for a terminal, as JSON and as a page.
package fit
