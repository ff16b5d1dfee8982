package stage

import (
	"errors"
	"math"
	"slices"

	"quietcross/dsp/bracket"
)

// The crossover is read from the incremental gain on either side of rest, from no input
// to the clipping onset. Going outward, the largest rise of the gain leads from the
// notch, where least is gained, to the full gain, the slope that the stage reaches
// beyond the crossover: a pair without bias has its notch at rest, one at the optimum a
// shallow one beside it, and one whose gain only falls outward has none. Inputs stand at
// equal ratios and at equal distances both, so that a zone is seen whatever its width
// against the swing, and what is between two of them is closed in on.
//
// A feedback loop hides the zone: its amplifier crosses it as fast as it can, and the
// stage's input sees one of a width divided by the loop's gain. Of such a stage the
// crossover is therefore that of the output stage inside the loop, against the voltage
// that the amplifier must swing.

// Crossover describes the transfer curve around the hand-over from one device to
// the other. Gains are sizes of the incremental gain; inputs are volts.
type Crossover struct {
	// Full is the maximum gain between the crossover and clipping, the lesser of the
	// two sides, and Notch the minimum gain between the two places of it, at NotchAt.
	Full, Notch, NotchAt float64
	// Width is the distance between the outermost inputs at which the gain crosses
	// the middle between Notch and Full: the width at half depth of the whole
	// crossover region, this program's own measure in the manner of the full width at
	// half maximum of a line. It is 0 where the gain does not rise outward.
	Width float64
	// DeadZone is the width of the zone around the crossover in which the gain is under
	// half of the full gain of its side, and Edges its ends. It is 0 where the gain never
	// falls so far. A lone device has no hand-over; its zone ends at rest on the side
	// that never conducts.
	DeadZone float64
	Edges    [2]float64
	// Inside tells that all these are of the output stage inside a feedback loop, at the
	// voltage that the loop's amplifier drives it with.
	Inside bool

	// Minimum is the minimum gain of the whole stage over the swing of the default drive,
	// both ends included, and MinimumAt where it is.
	Minimum, MinimumAt float64
}

// The inputs of a survey to one side: those at equal ratios begin at a part of the
// clipping onset.
const (
	ratioSteps  = 320
	ratioFrom   = 1e-6
	linearSteps = 400
)

// gainSample is the gain at an input.
type gainSample struct{ in, gain float64 }

// survey samples the gain from rest to an end, outward.
func (b *Biased) survey(end float64) ([]gainSample, error) {
	parts := make([]float64, 0, ratioSteps+linearSteps+1)
	for i := range ratioSteps {
		parts = append(parts, math.Pow(ratioFrom, 1-float64(i)/ratioSteps))
	}
	for i := range linearSteps + 1 {
		parts = append(parts, float64(i)/linearSteps)
	}
	slices.Sort(parts)
	list := make([]gainSample, len(parts))
	for i, part := range parts {
		g, err := b.gain(part * end)
		if err != nil {
			return nil, err
		}
		list[i] = gainSample{part * end, g}
	}
	return list, nil
}

// leastRise is the relative rise of the gain that counts as one.
const leastRise = 1e-9

// rise returns the places of the largest rise of the gain, outward; both are 0
// where it never rises.
func rise(side []gainSample) (notch, full int) {
	lowest, best := 0, 0.0
	for i, s := range side {
		if s.gain < side[lowest].gain {
			lowest = i
		}
		if up := s.gain - side[lowest].gain; up > best && up > leastRise*s.gain {
			best, notch, full = up, lowest, i
		}
	}
	return notch, full
}

// Crossover surveys the crossover region.
func (b *Biased) Crossover() (Crossover, error) {
	var sides [2][]gainSample
	for i, end := range b.clipping {
		var err error
		if sides[i], err = b.survey(end); err != nil {
			return Crossover{}, err
		}
	}
	minimum, at, err := b.minimum(sides, b.Drive())
	if err != nil {
		return Crossover{}, err
	}
	if b.net.Amplifier == nil {
		c, err := b.handOver(sides)
		c.Minimum, c.MinimumAt = minimum, at
		return c, err
	}
	inside, err := b.inside()
	if err != nil {
		return Crossover{}, err
	}
	c, err := inside.Crossover()
	if err != nil {
		return c, err
	}
	c.Inside, c.Minimum, c.MinimumAt = true, minimum, at
	// The notch is too narrow for the survey of the whole.
	at, err = b.drivenTo(c.NotchAt)
	if errors.Is(err, bracket.ErrSigns) {
		return c, nil // the amplifier does not swing so far
	}
	if err != nil {
		return c, err
	}
	g, err := b.gain(at)
	if g < c.Minimum {
		c.Minimum, c.MinimumAt = g, at
	}
	return c, err
}

// handOver reads the crossover from the survey of both sides.
func (b *Biased) handOver(sides [2][]gainSample) (c Crossover, err error) {
	var full [2]int
	var levels [2]float64
	for i, side := range sides {
		_, full[i] = rise(side)
		levels[i] = side[full[i]].gain
	}
	for i := range levels {
		if levels[i] < levels[1-i]/2 { // this side does not conduct
			full[i], levels[i] = 0, levels[1-i]
		}
	}
	c.Full = min(levels[0], levels[1])
	between := joined(sides, full)
	if len(between) < 2 {
		c.Notch, c.NotchAt = sides[0][0].gain, 0
		return c, nil
	}
	if c.Notch, c.NotchAt, err = b.lowest(between); err != nil {
		return c, err
	}
	if c.Notch >= c.Full*(1-leastRise) {
		return c, nil
	}
	middle := (c.Notch + c.Full) / 2
	ends, err := b.ends(between, [2]float64{middle, middle})
	if err != nil {
		return c, err
	}
	c.Width = ends[1] - ends[0]
	c.Edges, err = b.ends(between, [2]float64{levels[0] / 2, levels[1] / 2})
	c.DeadZone = c.Edges[1] - c.Edges[0]
	return c, err
}

// joined is one list of both sides' samples up to the places given, ascending.
func joined(sides [2][]gainSample, to [2]int) []gainSample {
	list := slices.Clone(sides[0][1 : to[0]+1])
	slices.Reverse(list)
	return append(list, sides[1][:to[1]+1]...)
}

// minimum returns the minimum gain over a swing to both sides, and where it is.
func (b *Biased) minimum(sides [2][]gainSample, swing float64) (gain, at float64, err error) {
	var to [2]int
	for i, side := range sides {
		for to[i]+1 < len(side) && math.Abs(side[to[i]+1].in) <= swing {
			to[i]++
		}
	}
	list := joined(sides, to)
	for _, in := range []float64{-swing, swing} {
		g, err := b.gain(in)
		if err != nil {
			return 0, 0, err
		}
		if s := (gainSample{in, g}); in < 0 {
			list = append([]gainSample{s}, list...)
		} else {
			list = append(list, s)
		}
	}
	return b.lowest(list)
}

// lowest closes in on the minimum gain among samples in ascending order.
func (b *Biased) lowest(list []gainSample) (gain, at float64, err error) {
	k := 0
	for i, s := range list {
		if s.gain < list[k].gain {
			k = i
		}
	}
	gain, at = list[k].gain, list[k].in
	if k == 0 || k == len(list)-1 {
		return gain, at, nil
	}
	in, g, err := bracket.Minimum(b.gain, list[k-1].in, list[k+1].in, 1e-6*(list[k+1].in-list[k-1].in))
	if g < gain {
		return g, in, err
	}
	return gain, at, err
}

// ends returns the outermost inputs, of samples in ascending order, between which the
// gain is under a level: the first level to the left of rest and the second to its right.
// Both are 0 where it never is.
func (b *Biased) ends(list []gainSample, levels [2]float64) (ends [2]float64, err error) {
	level := func(in float64) float64 {
		if in < 0 {
			return levels[0]
		}
		return levels[1]
	}
	under := func(s gainSample) bool { return s.gain < level(s.in) }
	first := slices.IndexFunc(list, under)
	if first < 0 {
		return ends, nil
	}
	last := len(list) - 1
	for !under(list[last]) {
		last--
	}
	ends = [2]float64{list[first].in, list[last].in}
	for side, pair := range [2][2]int{{first, first - 1}, {last, last + 1}} {
		if pair[1] < 0 || pair[1] >= len(list) {
			continue
		}
		inner, outer := list[pair[0]], list[pair[1]]
		if inner.gain >= level(outer.in) {
			continue // at rest, where the level changes from one side's to the other's
		}
		if ends[side], err = b.gainCrossing(level(outer.in), inner.in, outer.in); err != nil {
			return ends, err
		}
	}
	return ends, nil
}

// inside returns the output stage that stands inside a feedback loop, driven stiffly.
func (b *Biased) inside() (*Biased, error) {
	open := *b.stage
	open.spec.Parts = b.made.parts
	open.spec.Feedback.Gain, open.spec.Source.Ohms = 0, 0
	m := b.made
	m.parts = open.spec.Parts
	return open.bias(b.setting, m)
}

// drivenTo returns the input at which the amplifier of the feedback loop puts out volts.
func (b *Biased) drivenTo(volts float64) (float64, error) {
	return bracket.Root(func(in float64) (float64, error) {
		_, _, err := b.Transfer(in)
		return b.solver.Voltage(b.net.Amplifier.Node) - volts, err
	}, b.clipping[0], b.clipping[1], 0)
}

// gainCrossing returns the input at which the gain crosses a level, between two inputs
// on different sides of it. Where a second solution is not on its side any more, since
// the gain has two there, it is the middle.
func (b *Biased) gainCrossing(level, from, to float64) (float64, error) {
	in, err := bracket.Root(func(in float64) (float64, error) {
		g, err := b.gain(in)
		return g - level, err
	}, from, to, 1e-12*math.Abs(to-from))
	if errors.Is(err, bracket.ErrSigns) {
		return from + (to-from)/2, nil
	}
	return in, err
}
