package audibility

import (
	"context"
	"slices"
)

// The sparse search, for libraries: the same lattice, limit and narrowing as [Examine],
// but not every current of the lattice is rendered. It begins at currents four steps of
// the coarsest lattice apart; between two of those on different sides of the limit the
// lattice is bisected until the crossing lies between neighbours, where it is narrowed as
// ever. With a tolerance wider than a step of the lattice nothing is narrowed: the
// crossing is then where the line between two neighbours meets the limit, and the stage
// is solved at no current but the lattice's, however many cases there are. Where what is heard falls with
// current between currents that are rendered, the crossing is the very one that [Examine]
// finds. The stage without any current is left out, and so are the standard's figures and
// the threshold's interval.

// sparseStep is how many steps of the coarsest lattice lie between the currents that a
// sparse search begins with.
const sparseStep = 4

// ExamineSparsely searches one case with a third to a half of the renderings that
// [Examine] takes. The interval of a threshold is left zero.
func ExamineSparsely(ctx context.Context, c Case, o Options) (Finding, error) {
	if err := o.Check(); err != nil {
		return Finding{}, err
	}
	return examine(ctx, c, o, false, func(e *examiner) { e.sparse(ctx) })
}

// sparse draws the coarse curve, narrows its crossings and finds the threshold.
func (e *examiner) sparse(ctx context.Context) {
	lattice := Lattice(e.options.Low, e.options.High, e.options.PerDecade)
	var coarse []float64
	for i := 0; i < len(lattice)-1; i += sparseStep * e.options.PerDecade / latticeStep {
		coarse = append(coarse, lattice[i])
	}
	coarse = append(coarse, lattice[len(lattice)-1])
	for r := range e.renderAll(ctx, coarse) {
		if p, ok := e.judge(r); ok {
			e.finding.Curve = append(e.finding.Curve, p)
		}
	}
	begun := slices.Clone(e.finding.Curve)
	for i := 1; i < len(begun); i++ {
		if begun[i-1].over(e.limit) != begun[i].over(e.limit) {
			low, high := e.neighbours(ctx, lattice, begun[i-1], begun[i])
			e.finding.Crossings = append(e.finding.Crossings, e.narrow(ctx, low, high, e.limit, e.options.Tolerance))
		}
	}
	if i := slices.IndexFunc(e.finding.Crossings, func(c Crossing) bool { return !c.Rising }); i >= 0 {
		e.finding.Threshold = &Threshold{Crossing: e.finding.Crossings[i]}
	}
}

// neighbours bisects the lattice between two points on different sides of the limit until
// they are neighbours, or a current between them has no rendering.
func (e *examiner) neighbours(ctx context.Context, lattice []float64, low, high Point) (Point, Point) {
	place := func(p Point) int {
		at, _ := slices.BinarySearch(lattice, p.Quiescent)
		return at
	}
	for place(high)-place(low) > 1 && ctx.Err() == nil {
		middle, ok := e.look(ctx, lattice[(place(low)+place(high))/2])
		if !ok {
			break
		}
		e.insert(middle)
		if middle.over(e.limit) == low.over(e.limit) {
			low = middle
		} else {
			high = middle
		}
	}
	return low, high
}
