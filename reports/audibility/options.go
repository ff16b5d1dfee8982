package audibility

import (
	"fmt"
	"math"
	"runtime"

	"quietcross/dsp/hearing"
)

// What [DefaultOptions] holds.
const (
	DefaultPerDecade = latticeStep
	DefaultLimit     = 0.5
	DefaultTolerance = 0.03
	DefaultExcerpt   = 4.0
)

// Options says where and how finely to search. Zero is a value like any other: begin
// with [DefaultOptions].
type Options struct {
	// Heard is the playback level, the room and the listener.
	Heard hearing.Conditions
	// Low and High bound the quiescent current, A: 0 < Low < High. The search begins
	// at no current and covers the range up to the next current of the lattice.
	Low, High float64
	// PerDecade is the number of currents of the lattice in a decade, see [Lattice].
	PerDecade int
	// Limit is the probability of noticing above which a rendering counts as
	// predicted audible, see [hearing.Detection]: above 0 and below 1.
	Limit float64
	// Tolerance is the ratio, less one, to which a crossing is bracketed: 0.1
	// for 10 % of the current. 1e-6 to 1.
	Tolerance float64
	// Excerpt is the length of the stretch to listen to, s, 0.5 to 60.
	Excerpt float64
	// Standard adds the figures of ITU-R BS.1387 at the currents that are drawn, which
	// takes about as long as the prediction.
	Standard bool
	// Workers is the number of cases worked on at once, at least 1; where there are
	// fewer cases, each has several currents rendered at once. It does not change the
	// findings.
	Workers int
	// Progress, if not nil, is called after each case with the number done. It
	// is not called twice at once.
	Progress func(done, total int)

	cases int // that share the workers; 0 where one is examined by itself, by one worker
}

// DefaultOptions search between two quiescent currents, A, for what is noticed half of
// the time under [hearing.DefaultConditions], with one worker a processor.
func DefaultOptions(low, high float64) Options {
	return Options{
		Heard: hearing.DefaultConditions(), Low: low, High: high, PerDecade: DefaultPerDecade, Limit: DefaultLimit,
		Tolerance: DefaultTolerance, Excerpt: DefaultExcerpt, Standard: true, Workers: runtime.GOMAXPROCS(0),
	}
}

// Check returns an error that names the first option that is not legal, what was
// found and what is legal.
func (o *Options) Check() error {
	if !(o.Low > 0) || !(o.High > o.Low) || math.IsInf(o.High, 1) {
		return fmt.Errorf("audibility: quiescent current from %g A to %g A: the first must be above 0 and the second above it", o.Low, o.High)
	}
	return o.checkHearing()
}

// checkHearing checks all but the range.
func (o *Options) checkHearing() error {
	if err := o.Heard.Check(); err != nil {
		return fmt.Errorf("audibility: %w", err)
	}
	switch {
	case o.PerDecade < latticeStep || o.PerDecade > 100*latticeStep || o.PerDecade%latticeStep != 0:
		return fmt.Errorf("audibility: %d currents a decade: legal are multiples of %d up to %d", o.PerDecade, latticeStep, 100*latticeStep)
	case !(o.Limit > 0 && o.Limit < 1):
		return fmt.Errorf("audibility: limit %g: legal is above 0 and below 1", o.Limit)
	case !(o.Tolerance >= 1e-6 && o.Tolerance <= 1):
		return fmt.Errorf("audibility: tolerance %g: legal are 1e-6 to 1", o.Tolerance)
	case !(o.Excerpt >= 0.5 && o.Excerpt <= 60):
		return fmt.Errorf("audibility: excerpt of %g s: legal are 0.5 to 60", o.Excerpt)
	case o.Workers < 1:
		return fmt.Errorf("audibility: %d workers: at least 1", o.Workers)
	}
	return nil
}

// spare is how many workers each case has beside its own.
func (o *Options) spare() int {
	if o.cases == 0 {
		return 0
	}
	return max(o.Workers/o.cases, 1) - 1
}

// latticeStep is the number of currents in a decade of the coarsest lattice: the R5
// series of preferred numbers (ISO 3), each current 1.58 times the one before.
const latticeStep = 5

// Lattice returns the currents of the lattice with so many a decade, a multiple of 5,
// that cover the range from low to high, A, in ascending order: 1 A times the powers of
// 10^(1/perDecade), from the last one not above low to the first not below high. Finer
// lattices contain the coarser ones.
func Lattice(low, high float64, perDecade int) []float64 {
	const same = 1e-6 // of a step: a range that begins at a current of the lattice begins there
	n := float64(perDecade)
	first := int(math.Floor(n*math.Log10(low) + same))
	last := int(math.Ceil(n*math.Log10(high) - same))
	list := make([]float64, 0, last-first+1)
	for k := first; k <= last; k++ {
		list = append(list, math.Pow(10, float64(k)/n))
	}
	return list
}

// currents returns where a search begins, in ascending order.
func (o *Options) currents() []float64 {
	return append([]float64{0}, Lattice(o.Low, o.High, o.PerDecade)...)
}
