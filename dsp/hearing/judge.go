package hearing

import (
	"math"

	"quietcross/dsp/level"
)

// The judge turns the evidence of each step into d' and keeps what can be told of a
// piece of any length in bounded memory: the strongest moment with its band, the
// course of d', and the picture.

type judge struct {
	tables  *tables
	config  Config
	changes []*changes
	bands   [][bandCount]float64
	total   [bandCount]float64
	decider decider
	gain    float64 // of d', the listener's efficiency
	steps   int
	found   strongest
	course  course
	picture picture
}

// strongest is the moment of most evidence.
type strongest struct {
	heard    float64 // d' over looks, maximum
	at       float64 // s, of that
	evidence float64
	when     float64 // s, of that
	bands    [bandCount]float64
	ground   [bandCount]Through
	level    float64
}

func newJudge(t *tables, c Config) *judge {
	j := &judge{tables: t, config: c, decider: newDecider(t), gain: c.Efficiency.Power()}
	for range c.Channels {
		j.changes = append(j.changes, newChanges(t))
	}
	j.bands = make([][bandCount]float64, c.Channels)
	j.course.span, j.picture.span = 1, 1
	return j
}

// hear takes a step of the test in one channel.
func (j *judge) hear(channel int, g *ground, test *cells) {
	j.changes[channel].hear(&j.bands[channel], g, test)
}

// decide closes a step after all channels have been heard.
func (j *judge) decide(grounds []*ground) {
	evidence := pooled(&j.total, j.bands, j.config.Ears)
	d := j.gain * j.decider.add(evidence)
	energy := 0.0
	for _, g := range grounds {
		energy = max(energy, g.level)
	}
	time := float64(j.steps) * float64(j.tables.step) / j.tables.rate
	if d > j.found.heard || math.IsNaN(d) {
		j.found.heard, j.found.at = d, time
	}
	if evidence > j.found.evidence {
		j.found.evidence, j.found.when, j.found.bands = evidence, time, j.total
		j.found.ground, j.found.level = grounds[j.loudest()].through, energy
	}
	j.course.add(Moment{Time: time, DPrime: d, Reference: max(0, level.FromPower(energy))})
	j.picture.add(&j.total)
	j.steps++
}

// loudest returns the channel with most evidence.
func (j *judge) loudest() int {
	best, most := 0, -1.0
	for c := range j.bands {
		sum := 0.0
		for _, e := range j.bands[c] {
			sum += e
		}
		if sum > most {
			best, most = c, sum
		}
	}
	return best
}

// result gathers what was found in signals of so many samples.
func (j *judge) result(samples int) Result {
	stepTime := float64(j.tables.step) / j.tables.rate
	duration := float64(samples) / j.tables.rate
	r := Result{
		Config: j.config, Duration: duration,
		DPrime: j.found.heard, Strongest: j.found.place(j.gain, duration),
		Course:  j.course.series(stepTime),
		Picture: j.picture.drawn(stepTime, j.gain),
	}
	for _, t := range Tasks {
		r.Right[t] = t.Correct(r.DPrime)
	}
	return r
}

// place describes the moment.
func (s *strongest) place(gain, duration float64) Place {
	p := Place{Time: min(s.when, duration), Programme: max(0, level.FromPower(s.level)), Excess: level.DB(math.Inf(-1))}
	most, at := 0.0, -1
	for b, e := range s.bands {
		if e > most {
			most, at = e, b
		}
	}
	if at < 0 {
		return p
	}
	low, high := at, at
	for low > 0 && s.bands[low-1] > most/4 {
		low--
	}
	for high < bandCount-1 && s.bands[high+1] > most/4 {
		high++
	}
	n := firstBand + bandStep*float64(at)
	p.Frequency = erbFrequency(n)
	p.Low = erbFrequency(firstBand + bandStep*(float64(low)-0.5))
	p.High = erbFrequency(firstBand + bandStep*(float64(high)+0.5))
	p.Excess = excess(s.evidence, gain)
	p.Through = s.ground[at]
	return p
}

// excess returns by how many decibels a change of the given evidence may shrink to
// reach d' of 1.
func excess(evidence, gain float64) level.DB {
	return level.FromPower(gain * math.Sqrt(evidence))
}
