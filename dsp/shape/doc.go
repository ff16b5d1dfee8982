// Package shape applies a memoryless law to a signal without the aliases that
// a law with sharp corners would fold into the band.
//
// # The method
//
// A [Law] is a piecewise cubic with its antiderivatives. A [Shaper] takes the
// straight line between each two samples, puts it through the law and averages
// the result with a triangle two samples wide:
//
//	y[n] = integral over t from -1 to 1 of (1-|t|)·f(x(n+t))
//
// The integrals are exact, so that a corner narrower than one step of the
// signal still gets its right weight. Each stretch between two samples needs
// two numbers only, the mean of f over it and its first moment about the
// middle, and serves the sample before and the one after.
//
// On a linear law the response is (2+cos w)/3, w being the angle per sample.
// For a smooth law and a step of T the leading error is
//
//	T²·(f'(x)·x''/6 + f''(x)·x'²/12)
//
// A correction after the law acts on the second derivative of f(x), that is on
// f'·x” and f”·x'² in the ratio 1:1; one before it on f'·x” alone. So half of
// the response (in decibels) is undone before the law and half after it, and
// both terms vanish. [Source] and [Branch] do so with short symmetric filters at
// the base rate.
//
// The average of a curve against a kernel is the antiderivative method of
// Parker, Zavalishin and Le Bivic (DAFx-16, 2016) in its second-order form.
package shape
