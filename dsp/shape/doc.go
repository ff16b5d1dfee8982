// Package shape applies a memoryless law to a signal without the aliases that
// a law with sharp corners would fold into the band.
//
// # The method
//
// A [Law] is a piecewise quintic with its antiderivatives. A [Shaper] takes a
// parabola between each two samples, puts it through the law and averages the
// result with a triangle two samples wide:
//
//	y[n] = integral over t from -1 to 1 of (1-|t|)·f(x(n+t))
//
// The integrals are taken in closed form, so that a corner narrower than one step
// of the signal still gets its right weight. Each stretch between two samples
// needs two numbers only, the mean of f over it and its first moment about the
// middle, and serves the sample before and the one after.
//
// The parabola between x1 and x2 has the mean of the second differences at
// both, (x0 - x1 - x2 + x3)/2. Straight lines instead would leave images of the
// signal around the multiples of the sample rate, which the law mixes back into
// the band: of a 10 kHz tone at 8 times 48 kHz, 10 dB under full scale or less, in
// an unbiased pair, -108 dB instead of -136 dB.
//
// On a linear law the response is that of the parabolas, within 2e-4 of 1 at
// 20 kHz and 8 times 48 kHz, times that of the triangle. The first is undone
// before the law and the second after it, each where it arose, so that only the
// aliases are left of the method; see [Source] and [Branch].
//
// Averaging over the stretch between samples by antiderivatives follows Parker,
// Zavalishin and Le Bivic (Reducing the aliasing of nonlinear waveshaping using
// continuous-time convolution, DAFx-16, 2016).
package shape
