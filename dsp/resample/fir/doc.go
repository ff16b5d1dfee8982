// Package fir runs symmetric finite impulse responses, the one inner loop that
// the resampler and the shaper's corrections share.
package fir
