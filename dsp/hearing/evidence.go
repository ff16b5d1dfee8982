package hearing

import "math"

// Evidence of a change. In each band and frame the change of energy, as a fraction
// of the ground, enters a leaky mean (temporal integration; a signed mean,
// since nobody follows the waveform of a noise, so that changes which alternate
// cancel), and its square another, whose excess over the first tells beats and
// roughness that the reference has not. Each is held against what can be told there;
// the squares of the two ratios are the band's evidence, d' squared. Evidence adds
// over bands, half an ERB each, less what bands tell that fluctuate together, and is
// averaged over further looks in time; the better ear counts in each band, or both ears'
// evidence is added.

// changes follows the test in one channel.
type changes struct {
	tables  *tables
	layout  [frameCount]layout
	forget  [resolutions]float64
	bands   [bandCount]struct{ mean, square float64 }
	scratch [bandCount]float64
}

func newChanges(t *tables) *changes {
	c := &changes{tables: t}
	c.layout, _ = t.layouts()
	for i := range c.forget {
		c.forget[i] = math.Exp(-t.frameTime(i) / t.constants.integrate)
	}
	return c
}

// hear compares a step of the test with the ground of the reference and writes the
// evidence of each band.
func (c *changes) hear(dst *[bandCount]float64, g *ground, test *cells) {
	for k, l := range c.layout {
		excite(c.tables, l, &c.scratch, &g.slopes[k], &test[k])
		n := l.to - l.from
		excitation, inverse := g.excitation[l.at:l.at+n], g.inverse[l.at:l.at+n]
		forget := c.forget[l.resolution]
		for i, e := range excitation {
			s := &c.bands[l.from+i]
			change := (c.scratch[l.from+i] - e) * inverse[i]
			s.mean = forget*s.mean + (1-forget)*change
			change = min(change, 1)
			s.square = forget*s.square + (1-forget)*change*change
		}
	}
	var beats, means [bandCount]float64
	for b := range dst {
		s := &c.bands[b]
		means[b] = s.mean
		beats[b] = max(0, s.square-s.mean*s.mean)
	}
	clear(dst[:])
	addEvidence(dst, &means, &g.change, &g.shared)
	addEvidence(dst, &beats, &g.beat, &g.shared)
}

// limit is what can be told of one kind of change in each band: one over the variance
// at d' of 1, and the part of the standard deviation that the reference's fluctuation
// makes.
type limit struct{ precision, noisy [bandCount]float64 }

// addEvidence adds the evidence of changes u to dst. Bands that share their excitation
// share its fluctuation: with variances v, whose part n^2 is shared from band to band
// by a factor r, and weights u/v, d'^2 is S^2/(S + C), where S is the sum of u^2/v and
// C the covariance 2 Σ (u/v) n (u'/v') n' Π r over pairs of bands. Each band's part is
// less by the same factor.
func addEvidence(dst, u *[bandCount]float64, l *limit, shared *[bandCount]float64) {
	sum, covariance, chain := 0.0, 0.0, 0.0
	for b, x := range u {
		weighted := bandStep * x * l.precision[b]
		noise := weighted * l.noisy[b]
		chain *= shared[b]
		covariance += 2 * noise * chain
		chain += noise
		sum += weighted * x
	}
	if sum == 0 {
		return
	}
	worth := bandStep * sum / (sum + max(0, covariance))
	for b, x := range u {
		dst[b] += worth * x * x * l.precision[b]
	}
}

// pooled adds the evidence of the channels of a step. It writes each band's to
// dst and returns the total.
func pooled(dst *[bandCount]float64, channels [][bandCount]float64, ears Ears) (total float64) {
	for b := range dst {
		sum := 0.0
		for c := range channels {
			if e := channels[c][b]; ears == Combined {
				sum += e
			} else {
				sum = max(sum, e)
			}
		}
		dst[b] = sum
		total += sum
	}
	return total
}

// decider averages evidence over looks.
type decider struct {
	forget, mean float64
}

func newDecider(t *tables) decider {
	return decider{forget: math.Exp(-float64(t.step) / t.rate / t.constants.looks)}
}

// add takes the evidence of a step and returns d'.
func (d *decider) add(evidence float64) float64 {
	d.mean = d.forget*d.mean + (1-d.forget)*evidence
	return math.Sqrt(d.mean)
}
