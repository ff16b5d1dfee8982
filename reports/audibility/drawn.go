package audibility

import (
	"cmp"
	"context"
	"math"
	"slices"
)

// Which currents of the lattice are rendered. A rendering in time takes a second, and most
// of a lattice lies where what is heard is a hundredth of the limit or less. So a search
// begins with every eighth current of the coarsest lattice, its first and its last, and no
// current at all; and goes on between two neighbours on the curve, at the middle one of the
// lattice's currents between them, until they are decided or the lattice has none left there.
// Two neighbours are decided if the greater d' of the two, times a reserve, lies under the
// lower end of the listener's interval about the limit. Whatever crosses the limit or an end
// of that interval is so found between neighbours of the lattice, as if all of it had been
// rendered.
//
// The reserve is twice the square root of the ratio of the two currents: 3.2 for a gap of
// two steps of the coarsest lattice, 5 for four, 13 for eight. Through the built-in stages
// d' came to lie over the greater of two ends two, four and eight steps apart by up to 2.0,
// 3.2 and 5.1 (12 W pairs on speech, with the optimum between the two). What rises by more
// within a gap, and falls again, is missed; a finding names its gaps ([Finding.Unrendered]).
// Under the lesser of two ends d' may fall without bound, where two halves of a crossover
// cancel, so that nothing is left out where both are heard; nor where a rendering is the
// very reference, since a d' of nothing tells nothing of its neighbourhood.

// coarseStep is how many steps of the coarsest lattice lie between the currents that a
// search begins with.
const coarseStep = 8

// What the reserve is for two equal currents, and the power by which it grows with their ratio.
const (
	leastReserve = 2
	reservePower = 0.5
)

// Stretch is a gap in a curve: two neighbouring currents rendered, A, between which the
// lattice has others that were not, since what is heard there was taken to be decided.
type Stretch struct {
	From float64 `json:"from_a"`
	To   float64 `json:"to_a"`
}

// coarse returns the currents that a search begins with, in ascending order: the same of the
// lattice whatever the range.
func (o *Options) coarse() []float64 {
	lattice := Lattice(o.Low, o.High, o.PerDecade)
	step := coarseStep * o.PerDecade / latticeStep
	list := []float64{0}
	for i, quiescent := range lattice {
		k := int(math.Round(float64(o.PerDecade) * math.Log10(quiescent)))
		if i == 0 || i == len(lattice)-1 || k%step == 0 {
			list = append(list, quiescent)
		}
	}
	return list
}

// trace draws the curve as far as its neighbours are undecided. Which currents that takes
// does not depend on the order in which they come, for whether a gap is decided hangs on its
// ends alone: workers that are spare take whatever is open.
func (e *examiner) trace(ctx context.Context) {
	var waiting []float64
	asked, pending := map[float64]bool{}, map[float64]bool{}
	ask := func(currents []float64) {
		for _, quiescent := range currents {
			asked[quiescent], pending[quiescent] = true, true
		}
		waiting = append(waiting, currents...)
	}
	done, flying := make(chan rendered), 0
	begin := func() {
		for ; flying <= e.options.spare() && len(waiting) > 0 && ctx.Err() == nil; flying++ {
			quiescent := waiting[0]
			waiting = waiting[1:]
			go func() { done <- e.renderUnknown(ctx, quiescent) }()
		}
	}
	ask(e.options.coarse())
	for begin(); flying > 0; begin() {
		r := <-done
		flying--
		begin() // while this one is judged
		e.put(r)
		delete(pending, r.quiescent)
		ask(e.undecided(asked, pending))
	}
}

// undecided returns, of the lattice's currents that were not asked for, the middle one of
// each gap of the curve that is undecided and has none pending.
func (e *examiner) undecided(asked, pending map[float64]bool) []float64 {
	waits := map[int]bool{}
	for quiescent := range pending {
		at, _ := e.finding.place(quiescent)
		waits[at] = true
	}
	var list []float64
	curve := e.finding.Curve
	for at, gap := range e.gaps(func(quiescent float64) bool { return asked[quiescent] }) {
		if !waits[at] && (at == 0 || at == len(curve) || !e.decided(&curve[at-1], &curve[at])) {
			list = append(list, gap[len(gap)/2])
		}
	}
	slices.Sort(list)
	return list
}

// gaps returns the currents of the lattice but for some, by the place on the curve that
// each would have.
func (e *examiner) gaps(but func(quiescent float64) bool) map[int][]float64 {
	gaps := map[int][]float64{}
	for _, quiescent := range Lattice(e.options.Low, e.options.High, e.options.PerDecade) {
		if at, there := e.finding.place(quiescent); !there && !but(quiescent) {
			gaps[at] = append(gaps[at], quiescent)
		}
	}
	return gaps
}

// decided tells whether what is heard between two neighbouring points is taken to stay under
// the limit and its interval; and, where the standard's figures are asked for, whether they are
// on one side of one half.
func (e *examiner) decided(a, b *Point) bool {
	if a.Standard != nil && b.Standard != nil && (a.Standard.Detection > half) != (b.Standard.Detection > half) {
		return false
	}
	easy, _ := e.options.Heard.Interval(e.limit)
	reserve := leastReserve * math.Pow(b.Quiescent/a.Quiescent, reservePower)
	return a.Quiescent > 0 && min(a.DPrime, b.DPrime) > 0 && max(a.DPrime, b.DPrime)*reserve <= easy
}

// unrendered names the gaps of the curve.
func (e *examiner) unrendered() []Stretch {
	var list []Stretch
	curve := e.finding.Curve
	for at := range e.gaps(e.finding.failed) {
		if at > 0 && at < len(curve) {
			list = append(list, Stretch{curve[at-1].Quiescent, curve[at].Quiescent})
		}
	}
	slices.SortFunc(list, func(a, b Stretch) int { return cmp.Compare(a.From, b.From) })
	return list
}
