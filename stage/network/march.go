package network

import (
	"errors"
	"fmt"
	"math"
)

// The mesh of a period is laid step by step. What a step's polynomials leave out is
// estimated from how fast their Legendre coefficients fall off, weighed by the step's
// share in the period, since that is how it enters a line of the spectrum: a kink is
// resolved only as finely as can be seen. Where devices block the current of an
// inductance, voltages leap, and the last bit is bridged by Euler's backward rule.
const (
	meshNodes     = 5     // collocation nodes of a step
	startLength   = 1e-3  // of the first step, in periods
	leapLength    = 3e-9  // of a step that Euler's rule takes
	minimumLength = 1e-13 // of any
	mostSteps     = 20000 // beside those that the signal makes necessary
	faintest      = 1e-6  // of the signal: an output under that is looked at as if it were that
	farthest      = 1.5   // step re the last one up to which its polynomials predict
	slightest     = 1e-4  // of what a store would hold with the whole signal across it: likewise
	usualSteps    = 100   // with kinks, in a period of one cycle or a few
	cycleLengths  = 24    // longest steps that such a period has
)

// march integrates one period from what the stores hold.
func (p *Periodic) march(c *Cycle, tolerance float64) error {
	period := c.signal.Period
	before, err := p.consistent(c.signal)
	if err != nil {
		return err
	}
	defer func() { p.spare = append(p.spare, before) }()
	first := p.first(c.signal, before, tolerance)
	if first == nil {
		return errors.New("there is no way on from its beginning")
	}
	c.intervals = append(c.intervals, first)
	last, at, length, failed, refused := first, first.length, startLength*period, false, false
	ahead := leap{port: -1}
	most := mostSteps + 4*int(period/c.signal.Longest)
	for at < period {
		rest := period - at
		length = ahead.next(p, last, length, period)
		length = fit(min(length, c.signal.Longest), rest, period)
		rule := p.rule
		if length < leapLength*period {
			rule = p.euler
		}
		iv, wrong := p.try(c.signal, last, rule, at, length, tolerance, failed)
		failed = math.IsInf(wrong, 1)
		if !(wrong <= 1) {
			p.spare = append(p.spare, iv)
			refused = true
			if ahead.met(p, last, length, wrong) {
				continue
			}
			length *= max(0.1, 0.85*math.Pow(min(wrong, 1e4), -1.0/(meshNodes+2)))
			if length < minimumLength*period || len(c.intervals) > most {
				return fmt.Errorf("%.4g s into the period of %.4g s the iteration does not settle", at, period)
			}
			continue
		}
		ahead.passed(p, iv, last, wrong)
		c.intervals = append(c.intervals, iv)
		last = iv
		if at += length; length == rest {
			at = period
		}
		growth := 4.0
		if refused {
			growth, refused = 1, false // whatever it met is still ahead
		}
		length *= min(growth, max(0.3, 0.9*math.Pow(wrong+1e-12, -1.0/(meshNodes+2))))
	}
	copy(p.endX, last.x[len(last.x)-len(p.endX):])
	p.measure(c)
	return nil
}

// steps is about how many steps the mesh will have, over which the tolerance is spread.
func (s *Signal) steps() float64 { return usualSteps * max(1, s.Period/(cycleLengths*s.Longest)) }

// first takes the first step, by Euler's rule, as short as may be: what the stores hold
// at first need not agree with what the devices pass.
func (p *Periodic) first(signal Signal, before *interval, tolerance float64) *interval {
	for part := leapLength / 3; part < startLength; part *= 10 {
		iv, wrong := p.try(signal, before, p.euler, 0, part*signal.Period, tolerance, true)
		if wrong <= 1 {
			return iv
		}
		p.spare = append(p.spare, iv)
	}
	return nil
}

// fit returns a step that leaves of the rest of the period nothing or a step as long.
func fit(length, rest, period float64) float64 {
	switch {
	case length > rest*(1-1e-9) || rest-length < 1e-9*leapLength*period:
		return rest
	case length > rest/2:
		return rest / 2
	}
	return length
}

// try solves a step, and returns what is wrong with it in parts of the tolerance,
// infinite where the iteration did not settle; after one that did not, a step starts
// from where the last one ended.
func (p *Periodic) try(signal Signal, last *interval, rule *collocation, at, length, tolerance float64, failed bool) (iv *interval, wrong float64) {
	iv = p.interval(rule)
	iv.start, iv.length = signal.Start+at, length
	iv.begin = last.end()
	p.predict(iv, last, failed || length > farthest*last.length)
	if !p.solve(iv, last, signal, tolerance) {
		return iv, math.Inf(1)
	}
	if rule == p.rule {
		iv.tail = p.wrong(iv, last)
		if wrong = iv.tail * length / signal.Period * signal.steps() / tolerance; !(wrong <= 1) {
			return iv, wrong
		}
	} else {
		iv.doubt = math.Abs(iv.out[0]-iv.begin) / 2
	}
	p.depend(iv, last)
	return iv, wrong
}

// wrong estimates by how much a step's polynomials are wrong, relative to the size
// of what they describe.
func (p *Periodic) wrong(iv, last *interval) float64 {
	n := len(p.ports)
	begin := p.beginning(last)
	var values [meshNodes + 1]float64
	values[0] = iv.begin
	copy(values[1:], iv.out)
	iv.doubt = iv.rule.tail(values[:])
	worst := iv.doubt / p.swing
	for r := range p.ports {
		values[0] = begin[r]
		size := p.size[r]
		for i := range iv.out {
			values[i+1] = iv.own[i*n+r]
			size = max(size, math.Abs(values[i+1]))
		}
		worst = max(worst, iv.rule.tail(values[:])/size)
	}
	return worst
}

// tail estimates the size of the Legendre coefficients that the polynomial through
// values leaves out, as if they went on falling as they did; even and odd ones are
// looked at together, for a symmetric waveform has only one kind.
func (c *collocation) tail(values []float64) float64 {
	var a [meshNodes + 1]float64
	for k, row := range c.series {
		a[k] = math.Abs(dot(row, values))
	}
	const top = meshNodes
	late, early := a[top]+a[top-1], a[top-2]+a[top-3]
	if late == 0 {
		return 0
	}
	ratio := min(1, math.Sqrt(late/max(early, math.SmallestNonzeroFloat64)))
	return max(a[top], a[top-1]*ratio) * ratio
}

// measure notes how far the output and the stores went over the period.
func (p *Periodic) measure(c *Cycle) {
	n := len(p.ports)
	p.swing = faintest * c.signal.Peak
	for r := range p.ports {
		p.size[r] = slightest * p.ports[r].expect(c.signal)
	}
	for _, iv := range c.intervals {
		for i, out := range iv.out {
			p.swing = max(p.swing, math.Abs(out-p.restOut))
			for r := range p.ports {
				p.size[r] = max(p.size[r], math.Abs(iv.own[i*n+r]))
			}
		}
	}
}

// consistent solves the circuit at the beginning of the period, by a step of as little
// duration as can be had, from the solution at the end of the last period or at rest.
func (p *Periodic) consistent(signal Signal) (*interval, error) {
	iv := p.interval(p.euler)
	for part := 1e-9; part < 0.1; part *= 10 {
		for _, from := range [][]float64{p.endX, p.restX} {
			iv.start, iv.length = signal.Start-part*signal.Period, part*signal.Period
			copy(iv.x, from)
			clear(iv.limits)
			if p.solve(iv, nil, signal, p.tolerance) {
				copy(iv.own, p.held)
				return iv, nil
			}
		}
	}
	return iv, errors.New("there is no state at its beginning")
}
