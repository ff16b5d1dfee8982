// Package hearing predicts whether a difference between two signals can be
// heard, and when. It compares a test signal with its reference through a model
// of the ear and answers with numbers, not with a judgement of quality.
//
// # Models
//
//   - [Comparator] and [Reference] are the FFT-based ear model and the model
//     output variables of Recommendation ITU-R BS.1387-2 (basic version).
//   - [Products] lists the distortion products that stand above both the
//     absolute threshold of hearing and the masking of the programme.
//   - [Correlator] is a second, independent predictor: cross-correlation of
//     gammatone bands after Tan, Moore, Zacharov and Mattila, JAES 52 (2004).
//
// # The standard's clauses
//
// Comments cite Annex 2 of BS.1387: clause 2.1 is the FFT-based ear model, 3
// the processing of excitation patterns, 4 the output variables, 5 averaging;
// numbers below these were noted from memory and serve to find the place.
// The formulas and constants are the Recommendation's; the code and the words
// are this project's. Where the Recommendation leaves a choice, or is departed
// from, the comment says so. The known departures and reservations are these:
//
//   - The constants of the network behind distortion index and grade (clause 6)
//     are from memory and could not be confirmed against the text. Nothing else
//     here rests on them.
//   - The search for the first and last loud sample (clause 5.2) is left out.
//     It would drop quiet beginnings and fading tails, and these are where
//     crossover distortion is heard first.
//   - A last block shorter than one hop (21.3 ms) is not judged.
//
// What detection and noise-to-mask ratio rest on (bands, windows, internal noise,
// slopes, time constants, masks, steps) is held by the tests against published
// values or, for the outer ear, against the threshold in quiet. Constants that
// were written from memory of the Recommendation and not confirmed by a second
// text are: the exponent 0.4 of spreading, the 50 ms of adaptation, and those of
// modulation difference, noise loudness, bandwidth and error harmonic structure.
// Only the first of these enters detection and noise-to-mask ratio.
//
// # What the numbers mean
//
// The model stands for an average trained listener with normal hearing at a
// stated playback level; it does not know the room, the loudspeaker or the
// person. Its steps put a tone that is heard half of the time 3 dB (125 Hz) to
// 10 dB (4 kHz) above Terhardt's threshold in quiet, and in white noise of 20 to
// 40 dB/Hz 1 to 7 dB below the textbook's masked threshold. So it errs on the
// safe side where programme masks, and hears less than the best ears in silence,
// which is why [Products] stands beside it. A probability below one half is "not
// predicted audible under these conditions", never "inaudible". A blind listening
// test is the judge.
//
// Signals are planar blocks indexed [channel][frame], full scale 1.0, 48 kHz.
// Levels in dB SPL are re 20 µPa. Nothing here is safe for concurrent use
// except a finished [Reference], which is read-only.
package hearing
