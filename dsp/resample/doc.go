// Package resample changes the sample rate of a signal with linear phase and
// an exactly known delay.
//
// [Up] and [Down] change it by a power of two through a cascade of half-band
// filters. Both hold 0 to 0.4535 of the base rate flat (20 kHz at 44.1 kHz) and
// stop everything that would fold back into that band, that is from 0.5465 of
// the base rate on. The achieved figures stand in the table at [Stages] and are
// held by a test.
//
// # The contract of Process
//
// Every streaming type of this package keeps one contract. The lengths of dst
// and src have the fixed ratio that the type names; anything else panics. dst
// and src must not overlap. A stream may be cut into blocks of any length,
// empty ones included, and the output has the same bits whatever the cut. The
// state before the first sample and after Reset is that of endless silence.
// Nothing is allocated after construction. Latency returns the delay exactly:
// a symmetric pulse centred at input time t comes out symmetric, centred at
// t plus the latency. A sample that is not a number spoils the output as long
// as the filter remembers it, no longer.
//
// No type may be used by two goroutines at once.
package resample
