// Package quiescent works out which quiescent current a power stage should have:
// what each current costs in distortion, audibility, heat and stability, which
// range of currents meets the limits set, what binds it, what would widen it,
// and how many built units stay within it.
//
// Distortion and audibility are those of the stage with cold junctions, evaluated and
// rendered as by the rest of the program, so that a current found here gives the same
// figures there: a circuit with memory in its periodic state, and in time. A current is
// the stage's own bias parts, trimmed cold. Temperatures are those at which the stage's
// own heat holds it in the hottest air, with these parts as they follow the sink.
//
// Of the currents that meet every limit with its margin the one of least heat is taken,
// and moved up only where the gain is worth the heat, by an exchange that is stated
// ([Rule]). The parts that make it, the readings of healthy units and what would mend
// limits that cannot be met are solved with the parts in question.
//
// Nothing here is called inaudible: a difference is predicted audible or not, for
// the listener and the room stated, on the material given. A blind test is the judge.
//
// A [Report] shows results side by side: as a table for a terminal, as JSON and
// CSV, and as a page.
package quiescent
