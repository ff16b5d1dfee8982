package network

import "math"

// A device that blocks the current of a coil makes the voltage across it leap. Before
// that the voltage is like the logarithm of the current that is left, and steps must
// shrink in proportion to it. Once a step has run into such a leap, the rest are chosen
// by the time after which the current will have come to nothing, so that none has to be
// refused, until Euler's rule bridges the last bit. How the stores after a leap depend
// on those before it does not come from that rule: they moved at one rate until the
// current ended and at another from then on, and when it ends depends on the current
// (the saltation matrix of piecewise smooth systems: M. A. Aizerman and F. R.
// Gantmakher, Q. J. Mech. Appl. Math. 11(4):407, 1958).

// leap is the current that a mesh is heading for the end of.
type leap struct {
	port int     // of the coil, -1: none
	part float64 // of the time that is left, which the next step takes
}

const (
	steep      = 100  // what is wrong with a step that ran into a leap, in parts of the tolerance, at least
	gentle     = 1e-8 // what a step's polynomials leave out, relative, where nothing is about to leap
	carefully  = 0.55 // part of the time left that a step takes at first,
	boldly     = 0.8  // and that it takes when
	harmlessly = 0.04 // is what is wrong with a step, in parts of the tolerance; one that takes
	hardly     = 0.02 // of it or less is chosen by what is wrong alone
)

// left returns the coil whose current comes to nothing first after a step, if it goes on
// as it ends, and how long that takes, s; infinite where none does.
func (p *Periodic) left(iv *interval) (port int, seconds float64) {
	port, seconds = -1, math.Inf(1)
	for r := range p.ports {
		if s := p.leftOf(iv, r); s < seconds {
			port, seconds = r, s
		}
	}
	return port, seconds
}

// leftOf is left for one store.
func (p *Periodic) leftOf(iv *interval, r int) float64 {
	if !p.ports[r].inductive || iv.rates == nil {
		return math.Inf(1)
	}
	s := -iv.own[(iv.rule.count-1)*len(p.ports)+r] / iv.rates[r]
	if !(s > 0) {
		return math.Inf(1)
	}
	return s
}

// met notes that a step of a length was refused, and reports whether it ran into the
// end of a current, so that the next is to be chosen by that. Where such a choice is
// refused too, a smaller part is taken, and at last the current is not what matters.
func (l *leap) met(p *Periodic, last *interval, length, wrong float64) bool {
	if l.port >= 0 {
		l.part /= 2
		if l.part < hardly {
			l.port = -1
		}
		return l.port >= 0
	}
	if wrong < steep {
		return false
	}
	if port, seconds := p.left(last); seconds < length {
		*l = leap{port, carefully}
	}
	return l.port >= 0
}

// next returns the length of the step after last: not beyond the part of the time that
// is left, or beyond the end if Euler's rule can bridge it.
func (l *leap) next(p *Periodic, last *interval, length, period float64) float64 {
	if l.port < 0 {
		return length
	}
	seconds := p.leftOf(last, l.port)
	switch {
	case math.IsInf(seconds, 1):
		l.port = -1
		return length
	case seconds < leapLength/2*period:
		return min(length, 0.99*leapLength*period)
	}
	return min(length, l.part*seconds)
}

// passed notes that a step was taken, with how much was wrong with it, and what its
// polynomials leave out.
func (l *leap) passed(p *Periodic, iv, last *interval, wrong float64) {
	switch {
	case l.port < 0:
	case iv.rule == p.euler:
		if p.leftOf(last, l.port) < iv.length {
			p.salt(iv, last, l.port)
		}
	case iv.tail < gentle:
		l.port = -1
	case wrong < harmlessly:
		l.part = boldly
	}
}

// salt sets how the stores at the end of a step within which the current of a port ends
// depend on those at its beginning, and the mean of the output between.
func (p *Periodic) salt(iv, last *interval, port int) {
	n := len(p.ports)
	for q := range n {
		for c := range n {
			iv.jump[q*n+c] = 0
		}
		iv.jump[q*n+q] = 1
	}
	for q := range n {
		iv.jump[q*n+port] += (iv.rates[q] - last.rates[q]) / last.rates[port]
	}
	iv.sweep[port] = (iv.end() - iv.begin) / (last.rates[port] * iv.length)
}
