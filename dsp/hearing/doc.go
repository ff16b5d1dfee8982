// Package hearing predicts whether people hear a difference between two signals: the
// sensitivity d' with which a listener tells a test signal from its reference at a
// stated playback level, the probability of a right answer in the tasks of a listening
// test, and when, where and through what the difference stands out. It is held to
// measured thresholds; README.md lists every one with the model's figure beside it.
//
//   - [New] compares two signals as they stream by, in bounded memory.
//   - [NewReference] hears a reference once, for a search through many tests;
//     [NewProgramme] does so as it streams by beside them, for [NewTester].
//   - [FitEfficiency] sets the model's one free constant from a listener's answers, and
//     [Profile] is the file that keeps it. [Simulated] listeners answer by the model.
//   - [SPL] gives the playback level from volts, load, sensitivity and distance.
//
// # The model
//
// Samples are cut into frames of three lengths, short ones for high filters, and their
// spectra laid onto cells a third of an equivalent rectangular bandwidth apart, weighted
// by outer and middle ear (analysis.go, ear.go). Auditory filters whose lower side
// widens with the level of the reference turn cells into excitation (filters.go). The
// reference's excitation, internal noise and forward masking make the ground, and its
// fluctuation decides how large a change can be told (masker.go). The change that the
// test makes is integrated over time; what bands tell adds up as d' squared, and so do
// further looks (evidence.go, judge.go). Internal noise is calibrated so that tones in
// quiet are heard at the standard's threshold (calibrate.go). d' is 1 at threshold.
//
// The programme sets the filters and the limits; the test only adds change. So equal
// signals give d' of exactly 0, and all that depends on the reference can be kept.
//
// # Why this and not a modulation filterbank
//
// The alternative was a modulation filterbank with an optimal detector (Dau, Kollmeier
// and Kohlrausch 1997). A reduced one behind the same filters is in variant_test.go and
// was asked for the same thresholds, its internal noise set by one of them and the rest
// as here; root mean square errors in dB, this model first (TestVariant prints them):
//
//	tone in noise                   0.6  5.1
//	notched noise                   1.9  2.5
//	tone masks tone                 1.7  3.3
//	noise band masks tone           2.5  5.9
//	forward masking                 2.8  24.8
//	modulation                      4.2  6.6
//	tone masks noise                3.8  2.2
//	duration                        0.4  2.3
//	quiet, intensity, noise level   0.1  0.6 or less
//
// A detector that knows the noise sample by sample hears tones in it better than people
// do, which is the case here, where reference and test hold the same noise; forward
// masking needs the adaptation stages that the reduced one lacks. It gives noise within a
// tone better. What modulation tells there, beats and roughness on steady sounds, is kept
// here as a second kind of change. Derleth and Dau (JASA 108, 2000) found that the
// full model gives the masking patterns of Moore, Alcántara and Dau (1998) at low and
// medium levels where an energy detector does not; it takes asymmetric filters at high
// levels, which this model has.
//
// # What the numbers mean
//
// The default listener is that of the published thresholds: young, trained, in silence,
// listening for one thing. Rooms have noise, which decides where programme leaves the
// spectrum empty: [Config.RoomNR]. And people differ: [ThresholdError] is the model's rms
// error on the masked thresholds, and listeners differ among each other by several dB
// more. A d' under 1 is "not predicted to be heard under these conditions", never
// "inaudible". A blind listening test is the judge.
//
// Not modelled: reflections of the room, binaural unmasking, combination tones of the
// ear, hearing loss, learning. Frequencies over 17 kHz are not heard, and differences of
// level are heard as differences: match levels first.
//
// Signals are planar blocks indexed [channel][frame], full scale 1.0. Levels in dB SPL
// are re 20 µPa. Nothing here is safe for concurrent use except a finished [Reference].
//
// Caution: daily exposure above about 85 dB SPL damages hearing. Start low.
package hearing
