// Package shape applies a memoryless law to a signal without the aliases that
// a law with sharp corners would fold into the band.
//
// # The method
//
// A [Law] is a piecewise quintic with its antiderivatives. A [Shaper] takes a
// cubic between each two samples, puts it through the law and averages the
// result with a cubic B-spline, which is four samples wide:
//
//	y[n] = integral over t from -2 to 2 of spline(t)·f(x(n+t))
//
// so that a corner narrower than one step of the signal still gets its right
// weight, and what lies about a multiple of the high rate is damped by the fourth power of its
// distance before it folds. Each stretch between two samples needs four numbers only, the
// integrals of f over it times the powers 0 to 3 of the time from its middle, and serves the
// four samples about it. Within a cell of the law, and a little beyond where its neighbours
// are the same within the fit, three points give all four as exactly as the law was fitted; a
// stretch over several cells takes them from the antiderivatives; at a true corner the parts
// are taken one by one. Nothing is divided by the difference of two close samples, so that
// there is no floor for weak signals.
//
// The cubic between two samples is made of the six about it. Straight lines instead would
// leave images of the signal around the multiples of the sample rate, which the law mixes
// back into the band; see between.go.
//
// On a linear law the response is that of the paths times that of the spline. The first is
// undone before the law and the second after it, each where it arose, so that only the
// aliases are left of the method; see [Source] and [Branch].
//
// Averaging over the stretch between samples follows Parker, Zavalishin and Le Bivic
// (Reducing the aliasing of nonlinear waveshaping using continuous-time convolution,
// DAFx-16, 2016), who take a box or a triangle.
//
// # What is reached
//
// Tones of 1, 5 and 10 kHz at 48 kHz, 25 V and 2.5 V peak, in an ideal pair with
// 0.22 ohm and 8 ohm at 25.85 mV, up to 20 kHz, relative to the tone. Error is the
// sum of all lines less the law's output, alias the maximum line that is no
// harmonic; the worst of the six:
//
//	            unbiased           1.2 V           optimum
//	times   error   alias    error   alias    error   alias
//	    1     -37     -33      -53     -52      -81     -82
//	    2    -115    -115     -120    -122     -125    -137
//	    4    -133    -141     -133    -147     -133    -172
//	    8    -134    -154     -133    -173     -133    -201
//	   16    -134    -154     -134    -173     -133    -201
//	   32    -134    -154     -134    -173     -134    -201
//
// The error of the last rows is the ripple of the filters, 2e-6 dB, their aliases the
// tolerance of the fit. go test -v prints the table.
package shape
