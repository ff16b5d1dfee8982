// Package sweep computes how a stage distorts at every bias, level and frequency,
// in double precision from its transfer law alone: no audio is rendered, no rate
// limits the orders and no noise hides them.
//
// The law has no memory, so a tone's frequency does not change what the stage
// does. It decides which harmonics a measurement limited to 20 kHz still sees.
package sweep
