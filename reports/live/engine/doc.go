// Package engine is what runs in the page of the live command: a stage is solved at
// any bias, and sound passes through it block by block while the bias moves.
//
// A page has three of it, each in a worker of its own, for a stage takes longer to solve
// than a block of sound may wait. A [Solver] turns a stage file and a bias into a law;
// a [Player] takes each law over by a crossfade from the one before it, and plays again
// what it had played ahead ([Player.Rewind]). A [Scope] beside a solver takes what the
// figures show from the blocks that the player made.
//
// Nothing here knows of a browser: the package wasm beside it does. Compiled for
// js/wasm it holds the stage, the shaper, the generated material and the readers of
// sound files, the same code as the command's.
package engine

import "quietcross/dsp/level"

// oversample is the static solver's in the render command.
const oversample = 4

// lawHeadroom is the range over which laws are solved, re the drive and the level above
// it: the render command's, so that both make the same law. A test holds the two to
// each other.
const lawHeadroom = 1.5

// lawReach returns the input up to which a law for a drive (V peak) is solved when the
// maximum level is l.
func lawReach(drive float64, l level.DB) float64 {
	return lawHeadroom * drive * max(1, l.Amplitude())
}
