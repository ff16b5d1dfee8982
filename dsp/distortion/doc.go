// Package distortion measures what a device added to a test signal, as the
// standards define it: harmonics and THD (IEC 60268-3), THD+N (AES17), modulation,
// difference-frequency and dynamic intermodulation distortion (IEC 60268-3),
// multitone distortion, and the metrics of Shorter and of Geddes and Lee.
//
// No frequency need fall on a line of a transform: tones are found, their
// frequencies refined and their amplitudes fitted by weighted least squares, and
// each figure carries its standard uncertainty from the noise that remains.
package distortion
