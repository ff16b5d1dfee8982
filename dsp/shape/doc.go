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
// so that a corner narrower than one step of the signal still gets its right
// weight. Each stretch between two samples needs two numbers only, the mean of f
// over it and its first moment about the middle, and serves the sample before and
// the one after. Within a cell of the law, and across cells that join smoothly,
// three points give both as exactly as the law was fitted; a stretch over several
// cells takes them from the antiderivatives; at a true corner the parts are taken
// one by one. Nothing is divided by the difference of two close samples, so that
// there is no floor for weak signals.
//
// The parabola between x1 and x2 has the mean of the second differences at
// both, (x0 - x1 - x2 + x3)/2. Straight lines instead would leave images of the
// signal around the multiples of the sample rate, which the law mixes back into
// the band: of a 10 kHz tone at 8 times 48 kHz, 20 dB under full scale, in an
// unbiased pair, -108 dB instead of -136 dB.
//
// On a linear law the response is that of the parabolas, within 2e-4 of 1 at
// 20 kHz and 8 times 48 kHz, times that of the triangle. The first is undone
// before the law and the second after it, each where it arose, so that only the
// aliases are left of the method; see [Source] and [Branch].
//
// Averaging over the stretch between samples by antiderivatives follows Parker,
// Zavalishin and Le Bivic (Reducing the aliasing of nonlinear waveshaping using
// continuous-time convolution, DAFx-16, 2016).
//
// # What is reached
//
// Tones of 1, 5 and 10 kHz at 48 kHz, 25 V and 2.5 V peak, in an ideal pair with
// 0.22 ohm and 8 ohm at 25.85 mV, up to 20 kHz, relative to the tone. Error is the
// sum of all lines less the exact output, alias the maximum line that is no
// harmonic; the worst of the six:
//
//	            unbiased           1.2 V           optimum
//	times   error   alias    error   alias    error   alias
//	    1     -29     -25      -45     -44      -77     -76
//	    2     -87     -83      -92     -94     -127    -129
//	    4    -102    -100     -107    -108     -133    -143
//	    8    -124    -124     -131    -134     -134    -186
//	   16    -134    -142     -134    -155     -134    -202
//	   32    -134    -154     -133    -173     -133    -202
//
// The error of the last rows is the ripple of the filters, 2e-6 dB. go test -v
// prints the table.
package shape
