// Package align lays a reference over a recording of it: delay to a fraction of a
// sample, clock drift, gain, polarity and DC by least squares, and if asked the
// linear response that lies between them. What then remains is the residual, and
// the part of it that no linear response explains.
package align
