// Package wave reads and writes WAV files as streams of planar float64 blocks,
// indexed [channel][frame], with full scale at 1.0.
//
// # What is read
//
// RIFF, RF64 (EBU Tech 3306) and BW64 (ITU-R BS.2088) files of PCM with 8, 16,
// 24 or 32 bits and of IEEE floats with 32 or 64 bits, plain or EXTENSIBLE, 1 to
// 8 channels, 8 to 384 kHz, with other chunks anywhere. Everything else
// (big-endian RIFX; compressed formats within WAV) is refused by what it is.
// A refusal is an [*Error]: file, byte offset, what was found, what is legal.
//
// A header is not trusted. Each size in it is held against the real length of
// the file before anything is allocated, so that opening a file takes some
// 100 KiB whatever it claims, and at most 16 MiB is asserted by tests and
// fuzzing. Tolerated are, with a warning: files cut short, sizes that a
// streaming writer never filled in, rubbish after the audio, missing pad bytes.
// Warnings are data for the report, from [Reader.Warnings].
//
// The chunks are walked and bounded here. The decoding of the common fields of
// the fmt chunk is left to github.com/go-audio/riff, that of INFO texts to
// github.com/go-audio/wav, and github.com/go-audio/audio holds the integers
// between quantising and packing. Samples are converted in bulk here, without
// allocation.
//
// # What is written
//
// PCM with 8, 16, 24 or 32 bits and floats with 32 or 64 bits. The header is
// EXTENSIBLE where the published rules ask for it, carries a fact chunk unless
// it is plain PCM, and turns into RF64 past 4 GiB, for which each file reserves
// the place. A file appears under its name when it is complete.
//
// Integers get triangular dither of ±1 LSB: the difference of two uniform
// variates, from one seeded generator a channel. Samples out of range stop at
// its ends and are counted.
//
// # Accuracy
//
// Noise added to a signal, from 0 Hz to half the sampling rate, in dB re the RMS
// value of a full-scale sine. Rounding adds LSB²/12, rounding with the dither
// LSB²/4 whatever the signal (Lipshitz, Wannamaker and Vanderkooy, JAES 40(5),
// 1992). TestAccuracyTable measures each within 0.1 dB.
//
//	format          LSB              rounded     with dither
//	PCM  8          2^-7              -49.9         -45.2
//	PCM 16          2^-15             -98.1         -93.3
//	PCM 20 in 24    2^-19            -122.2        -117.4
//	PCM 24          2^-23            -146.3        -141.5
//	PCM 32          2^-31            -194.4        -189.7
//	float 32        2^-24 near 1     -153.8 at full scale, falling with the level
//	float 64        exact
//
// Reading adds nothing: every sample of every format is a float64.
package wave
