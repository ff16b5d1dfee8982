// Package signal generates the built-in sound of the project: short pieces of
// programme material that are worth listening to, and the test signals of the
// measurement standards.
//
// Programme material is performed once, at a fixed internal rate, and then
// converted to the rate asked for, so that a piece has the same notes, onsets
// and levels at every rate. Test signals are sums of sinusoids in closed form
// and are computed at the rate asked for.
//
// Everything is seeded. The seed draws the noises: breath, bow, fingers, brush
// and consonants. What belongs to the score — pitches, onsets, dynamics, the
// players' small unsteadiness, the room — does not depend on it. The same seed
// and rate give the same bits on the same processor architecture; another may
// fuse multiplications and additions and so differ in the last bits.
//
// Caution: what is quiet here can be made loud downstream. The test signals
// reach digital full scale and some put all their power above 10 kHz, where a
// tweeter can burn before the level seems high. Start with the volume down.
package signal
