// Package resample changes the sample rate of a signal with linear phase and
// an exactly known delay.
//
// [Up] and [Down] change it by a power of two through a cascade of half-band
// filters. Both hold 0 to [PassEdge] of the base rate flat within 1e-5 dB (20 kHz at
// 44.1 kHz) and stop what would fold back into that band by 130 dB, every single
// stage by 140 dB. halfbands.go has the achieved figures of each stage.
//
// [Converter] changes the rate by any ratio of whole numbers.
//
// # The contract of Process
//
// A stream may be cut into blocks of any length, empty ones included, and the
// output has the same bits whatever the cut. The state before the first sample and
// after Reset is that of endless silence. A sample that is not a number spoils the
// output as long as the filter remembers it, no longer. No type may be used by two
// goroutines at once.
//
// Of Up and Down the lengths of dst and src have the fixed ratio of the type;
// anything else panics. dst and src must not overlap. Nothing is allocated after
// construction. Latency returns the delay exactly: a symmetric pulse centred at
// input time t comes out symmetric, centred at t plus the latency.
//
// A Converter has no such ratio in a block: it appends to dst what is complete, and
// has no delay.
package resample
