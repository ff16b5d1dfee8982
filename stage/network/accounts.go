package network

import "slices"

// Accounts of energy in time close exactly, by whatever means of voltages and currents over a
// step the power of an element is taken: as long as these are the same sums of values at
// the ends of steps for all elements, they obey Kirchhoff's laws as the values do, and the
// products of one voltage mean and one current mean add up to nothing over all elements (B.
// D. H. Tellegen, Philips Research Reports 7:259, 1952). Here voltage and current are the
// parabolas through their values at the last three ends, so that what is taken is the
// energy itself up to the fourth order, also from a kink to the next.

// Quadrature is a step, and the one before it, in seconds.
type Quadrature struct{ Seconds, before float64 }

// Power returns the mean power over the step of a voltage and a current, of which the
// values at the step's end, at its beginning and a step earlier are given.
func (q Quadrature) Power(volts, amperes [3]float64) float64 {
	return q.mean(volts)*q.mean(amperes) + (volts[0]-volts[1])*(amperes[0]-amperes[1])/12
}

// mean returns the mean over the step of the parabola through three values.
func (q Quadrature) mean(v [3]float64) float64 {
	ratio := q.Seconds / q.before
	return (v[0]+v[1])/2 - ((v[0]-v[1])-ratio*(v[1]-v[2]))*ratio/(6*(1+ratio))
}

// accounts is who is told of every step, and what the stores have taken in it.
type accounts struct {
	told    func(s *Solver, over Quadrature)
	over    Quadrature
	earlier []float64 // what is followed at the beginning of the last step
	rule    float64   // joules
}

// AfterEach has f called after every step, with each of its parts where it was
// split: with the solver that holds the solution, and with the step. The circuit is then
// solved in each.
func (t *Transient) AfterEach(f func(s *Solver, over Quadrature)) {
	t.after = &accounts{told: f, earlier: slices.Clone(t.latest())}
}

// Rule returns the energy, in joules, that the stores outside of devices have taken since
// AfterEach beside what Power gives of them: by the corrections of Sharpen, with which
// it comes and goes as what they hold does, and in the shortest parts of split steps.
func (t *Transient) Rule() float64 {
	if t.after == nil {
		return 0
	}
	return t.after.rule
}

// take accounts for a step of t whose end is read, but that it has not been moved by.
func (a *accounts) take(t *Transient) {
	if a == nil {
		return
	}
	a.over = Quadrature{Seconds: t.step, before: a.over.Seconds}
	if a.over.before == 0 {
		a.over.before = t.step
	}
	n, from := len(t.stores), t.followed.newest()
	for i := range t.stores {
		s := &t.stores[i]
		if s.inside {
			continue
		}
		own := [3]float64{s.through(t.now[i]), s.through(from[i]), s.through(a.earlier[i])}
		dual := [3]float64{t.now[n+i], from[n+i], a.earlier[n+i]}
		a.rule += s.energy(t.now[i]) - s.energy(from[i]) - t.step*a.over.Power(own, dual)
	}
	copy(a.earlier, from)
	a.told(t.solver, a.over)
}

// energy returns what the store holds, in joules.
func (r *reactance) energy(own float64) float64 {
	if r.flux != nil {
		return r.flux.energy(own)
	}
	return r.size * own * own / 2
}

// through returns the current through an inductance, or the voltage across a
// capacitance, by what it stores by.
func (r *reactance) through(own float64) float64 {
	if r.flux != nil {
		i, _ := r.flux.current(own)
		return i
	}
	return own
}
