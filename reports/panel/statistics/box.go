package statistics

import (
	"cmp"
	"fmt"
	"math"
	"slices"
)

// merge sorts the points by level, adds up those at one level and drops the
// empty ones.
func merge(points []Point) ([]Point, error) {
	sorted := slices.Clone(points)
	slices.SortFunc(sorted, func(a, b Point) int { return cmp.Compare(a.Level, b.Level) })
	var out []Point
	for _, p := range sorted {
		switch {
		case math.IsNaN(p.Level) || math.IsInf(p.Level, 0):
			return nil, fmt.Errorf("statistics: level %g is not finite", p.Level)
		case p.Right < 0 || p.Right > p.Trials:
			return nil, fmt.Errorf("statistics: %d right of %d trials at level %g", p.Right, p.Trials, p.Level)
		case p.Trials == 0:
		case len(out) > 0 && out[len(out)-1].Level == p.Level:
			out[len(out)-1].Right += p.Right
			out[len(out)-1].Trials += p.Trials
		default:
			out = append(out, p)
		}
	}
	if len(out) < 2 {
		return nil, fmt.Errorf("%w: found %d", ErrFlat, len(out))
	}
	return out, nil
}

// box bounds the parameters and maps each onto the whole line, so that an
// unbounded search stays inside: p = lo + (hi-lo) sin²u.
type box struct {
	lo, hi parameters
	mean   float64 // mean level, a start for the location
}

func newBox(points []Point, maxLapse float64) box {
	first, last := points[0].Level, points[len(points)-1].Level
	width := last - first
	sum, n := 0.0, 0.0
	for _, p := range points {
		sum += p.Level * float64(p.Trials)
		n += float64(p.Trials)
	}
	return box{
		lo:   parameters{first - width, math.Log(width / 1000), 0},
		hi:   parameters{last + width, math.Log(width * 10), maxLapse},
		mean: sum / n,
	}
}

func (b *box) inside(i int, u float64) float64 {
	s := math.Sin(u)
	return b.lo[i] + (b.hi[i]-b.lo[i])*s*s
}

// rate is the derivative of inside.
func (b *box) rate(i int, u float64) float64 { return (b.hi[i] - b.lo[i]) * math.Sin(2*u) }

// outside is the inverse of inside; a value on a bound is moved in a little,
// for there the derivative vanishes and a search could not leave.
func (b *box) outside(i int, p float64) float64 {
	r := (p - b.lo[i]) / (b.hi[i] - b.lo[i])
	return math.Asin(math.Sqrt(min(max(r, 1e-3), 1-1e-3)))
}

// starts are the points the search sets out from: steep and shallow, in the
// middle and to either side.
func (b *box) starts() []parameters {
	width := (b.hi[0] - b.lo[0]) / 3
	lapse := b.hi[2] / 5
	return []parameters{
		{b.mean, math.Log(width / 6), lapse},
		{b.mean, math.Log(width / 40), lapse},
		{b.mean - width/4, math.Log(width / 12), lapse},
		{b.mean + width/4, math.Log(width / 12), lapse},
	}
}

// warnings names the parameters that ended on a bound of the search.
func (b *box) warnings(p parameters) []string {
	names := [...]string{"threshold", "spread"}
	var out []string
	for i, name := range names {
		edge := 1e-3 * (b.hi[i] - b.lo[i])
		if p[i] < b.lo[i]+edge || p[i] > b.hi[i]-edge {
			out = append(out, fmt.Sprintf("the answers do not determine the %s: the fit ends on the bound of its search", name))
		}
	}
	return out
}
