// Package weighting holds the frequency weightings of the measurement
// standards as digital filters for any sample rate: A (IEC 61672-1), the 468
// noise network with its quasi-peak detector (ITU-R BS.468-4), and K (ITU-R
// BS.1770-5).
//
// Everything here is a plain ratio of amplitudes; package level, which imports
// this one, turns ratios into decibels.
package weighting
