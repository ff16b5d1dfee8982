package hearing

import "math"

// What the reference leaves of a listener's sensitivity. In each band and frame the
// reference's excitation and an internal noise make the ground on which a change must
// stand out: a change of energy counts as a fraction of that ground. The internal
// noise is what the threshold in quiet asks for. After a masker the ground falls no
// faster than forward masking lets it: the decibels that the masker stood over the
// internal noise die away in two exponentials, near the form M = a (b - lg t) L of
// Jesteadt, Bacon and Lehman (JASA 71, 1982).
//
// How large a fraction can be told depends on how the reference fluctuates. Its
// fluctuation is the mean square of the excitation's relative deviation from its
// running mean, measured in units of what Gaussian noise has in the same band: 0 for a
// steady tone, about 1 for noise.

// steady is the time constant, s, of that running mean: what changes more slowly is
// no fluctuation.
const steady = 0.06

// layout says where the bands of each frame of a step lie in flat arrays.
type layout struct {
	resolution, from, to int
	at                   int
	first                bool // first frame of its resolution in the step
	last                 bool
}

// layouts returns the frames of a step, and the total of their bands.
func (t *tables) layouts() (frames [frameCount]layout, total int) {
	k := 0
	for i, r := range t.levels {
		for j := range framesOf(i) {
			frames[k] = layout{i, r.from, r.to, total, j == 0, j == framesOf(i)-1}
			total += r.to - r.from
			k++
		}
	}
	return frames, total
}

// ground is what one step of the reference leaves for the comparison with a test:
// read-only once made.
type ground struct {
	slopes       [frameCount]slopes
	excitation   []float64 // flat, of the reference
	inverse      []float64 // flat, one over the ground
	change, beat limit
	shared       [bandCount]float64 // part of the excitation that comes from other bands, 0 to 1
	through      [bandCount]Through
	level        float64 // mean square of the reference, re 20 µPa
}

// masker follows the reference in one channel.
type masker struct {
	tables  *tables
	room    [bandCount]float64
	layout  [frameCount]layout
	total   int
	decay   [resolutions]decays
	bands   [bandCount]maskerState
	scratch [bandCount]float64
}

// decays are the forgetting factors of one frame.
type decays struct{ mean, ripple, fast, slow float64 }

type maskerState struct {
	last       float64 // excitation of the latest frame
	mean       float64 // its running mean
	ripple     float64 // running mean square of its relative deviation from that
	fast, slow float64 // forward masking, dB
}

func newMasker(t *tables, roomNR float64) *masker {
	m := &masker{tables: t, room: t.roomNoise(roomNR)}
	m.layout, m.total = t.layouts()
	c := &t.constants
	for i := range m.decay {
		dt := t.frameTime(i)
		m.decay[i] = decays{
			mean: math.Exp(-dt / steady), ripple: math.Exp(-dt / c.integrate),
			fast: math.Exp(-dt / c.fast), slow: math.Exp(-dt / c.slow),
		}
	}
	return m
}

// frameTime returns the time between frames of a resolution, s.
func (t *tables) frameTime(resolution int) float64 {
	return float64(t.step) / t.rate / float64(framesOf(resolution))
}

// newGround returns a ground with room for one step.
func (m *masker) newGround() *ground {
	return &ground{excitation: make([]float64, m.total), inverse: make([]float64, m.total)}
}

// hear writes the ground that a step of the reference makes, from its samples.
func (m *masker) hear(g *ground, a *analyser, c *cells, buffer []float64) {
	a.analyse(c, buffer)
	g.level = a.level(buffer)
	for k, l := range m.layout {
		m.tables.levels[l.resolution].filters.setSlopes(&g.slopes[k], &c[k])
		excite(m.tables, l, &m.scratch, &g.slopes[k], &c[k])
		n := l.to - l.from
		excitation, inverse := g.excitation[l.at:l.at+n], g.inverse[l.at:l.at+n]
		copy(excitation, m.scratch[l.from:l.to])
		for i, e := range excitation {
			b := l.from + i
			ground := m.follow(b, &m.decay[l.resolution], e)
			inverse[i] = 1 / ground
			if l.last {
				m.limits(g, b, ground)
			}
		}
	}
	m.explain(g, c)
}

// excite writes the excitation of the bands of one frame.
func excite(t *tables, l layout, dst *[bandCount]float64, s *slopes, power *[cellCount]float64) {
	clear(dst[l.from:l.to])
	t.levels[l.resolution].filters.excite(dst, s, power)
}

// follow moves one band by one frame and returns its ground.
func (m *masker) follow(b int, d *decays, e float64) float64 {
	s, c := &m.bands[b], &m.tables.constants
	quiet := m.tables.noise[b]
	over := 0.0
	if e > quiet {
		over = 10 * math.Log10(e/quiet)
	}
	s.mean = d.mean*s.mean + (1-d.mean)*e
	if larger := max(e, s.mean); larger > 0 {
		x := (e - s.mean) / larger
		s.ripple = d.ripple*s.ripple + (1-d.ripple)*x*x
	}
	s.last = e
	lasting := over / (1 + over/c.bend)
	s.fast = max(d.fast*s.fast, (1-c.slowShare)*lasting)
	s.slow = max(d.slow*s.slow, c.slowShare*lasting)
	floor := quiet + m.room[b]
	trail := s.fast + s.slow
	if trail <= over {
		return e + floor
	}
	return max(e, quiet*math.Expm1(trail*math.Ln10/10)) + floor
}

// limits sets what can be told in a band at the end of a step.
func (m *masker) limits(g *ground, b int, ground float64) {
	s, c, t := &m.bands[b], &m.tables.constants, m.tables
	programme, room := s.last/ground, m.room[b]/ground
	programme *= programme
	noisy := programme*min(s.ripple/t.ripple[b], 2) + room*room
	g.change.set(b, c.step, c.noise*math.Sqrt(t.narrow[b]*noisy), 1)
	g.beat.set(b, c.beat, c.beatNoise*noisy*noisy, programme)
}

// set sets the limit in a band from the internal and the external just noticeable
// change; weight scales the precision.
func (l *limit) set(b int, internal, external, weight float64) {
	l.noisy[b] = external
	l.precision[b] = weight / (internal*internal + external*external)
}

// explain says what limits hearing in each band at the end of a step, and how much of
// its excitation other bands share.
func (m *masker) explain(g *ground, c *cells) {
	k := 0
	for k < frameCount-1 && !m.layout[k].last {
		k++
	}
	for b := range g.through {
		r := resolutionOf(b)
		for m.layout[k].resolution != r || !m.layout[k].last {
			k++
		}
		s := &m.bands[b]
		at := int(math.Round((firstBand + bandStep*float64(b) - firstCell) / cellStep))
		own := c[k][at-1] + c[k][at] + c[k][at+1]
		quiet := m.tables.noise[b]
		total := 1 / g.inverse[m.layout[k].at+b-m.layout[k].from]
		g.shared[b] = max(0, s.last-own) / total
		switch room := m.room[b]; {
		case s.last < total/2 && total > 2*(quiet+room):
			g.through[b] = ThroughAftermath
		case s.last < total/2 && room > quiet:
			g.through[b] = ThroughRoom
		case s.last < total/2:
			g.through[b] = ThroughQuiet
		case own < s.last/4:
			g.through[b] = ThroughSkirt
		default:
			g.through[b] = ThroughProgramme
		}
	}
}
