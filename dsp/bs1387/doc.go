// Package bs1387 is the FFT-based ear model of Recommendation ITU-R BS.1387-2 (basic
// version) with its model output variables: noise-to-mask ratio, detection
// probability, modulation and bandwidth figures, and the objective difference grade.
// They are the standard's figures, named as such. Whether a difference is heard is
// answered by quietcross/dsp/hearing, which is held to measured thresholds.
//
// [Comparator], [Reference] and, for several tests as they stream by, [Programme] with
// [Tester] compute the Recommendation's variables.
//
// # The standard's clauses
//
// Comments cite Annex 2 of BS.1387: clause 2.1 is the FFT-based ear model, 3 the
// processing of excitation patterns, 4 the output variables, 5 averaging; numbers
// below these were noted from memory and serve to find the place. The formulas and
// constants are the Recommendation's; the code and the words are this project's.
//
// # Confirmed from outside
//
// On 2026-11-27 the constants were compared with public transcriptions of the
// Recommendation: those of the network agree with seven independent ones, and so do
// the spreading exponent 0.4, the time constants of 50 ms and 30 ms, the weights and
// offsets of the modulation differences (100, 1, 0.01, 0.1), noise loudness (1.5,
// 0.15, 0.5), bandwidth (10 dB and 5 dB, lines 921 and 346) and the harmonic
// structure. An independent computation of six renderings (two pieces at three
// biases) gave the same noise-to-mask ratio to 0.0001 dB, the same detection to four
// digits and the same grade within 0.01.
//
// What differs on purpose:
//
//   - The search for the first and last loud sample (clause 5.2) is left out. It
//     would drop quiet beginnings and fading tails, and these are where crossover
//     distortion is heard first.
//   - A last block shorter than one hop (21.3 ms) is not judged.
//   - Only 48 kHz and one or two channels are taken.
//
// # What the numbers mean, and what not
//
// The steps put a tone that is detected half of the time 3 dB (125 Hz) to 10 dB
// (4 kHz) above Terhardt's threshold in quiet, and in white noise of 20 to 40 dB/Hz
// 1 to 7 dB below the textbook's masked threshold. Beside a tone or a narrow band it
// is no masked threshold: excitations add under an exponent of 0.4, so that a
// component 21 dB under the masker's excitation raises it by 1.5 dB and counts as
// detected. A tone at 2 kHz beside one of 80 dB SPL at 1 kHz is detected from 16 dB
// SPL, at 3 kHz from 3 dB SPL, some 20 dB below what people need. For quiet, tonal
// music the detection here is therefore too keen, and no verdict rests on it.
//
// Signals are planar blocks indexed [channel][frame], full scale 1.0, 48 kHz.
// Levels in dB SPL are re 20 µPa. Nothing here is safe for concurrent use except a
// finished [Reference], which is read-only.
package bs1387
