// Package sweep computes how a stage distorts at every bias, level and frequency,
// in double precision from its transfer law alone: no audio is rendered, no rate
// limits the orders and no noise hides them.
//
// The law is that at rest temperatures and at midband: in a circuit with memory,
// capacitors and windings count as they do there. It has no memory of its own, so a tone's frequency does not change what the stage
// does. It decides which harmonics a measurement limited to 20 kHz still sees.
//
// A [Grid] is written as a table for a terminal, as CSV and JSON for programs, and
// as a page of the classical curves, distortion against output power.
package sweep
