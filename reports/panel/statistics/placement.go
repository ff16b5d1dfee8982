package statistics

import (
	"fmt"
	"math"
)

// Prior describes what is believed before the first trial and where stimuli may
// be placed.
type Prior struct {
	Shape Shape
	Guess float64 // fixed by the form of the trial
	// Lo and Hi bound the stimulus levels, Lo < Hi; Step > 0 is their spacing.
	// Thresholds are believed equally likely from Margin under Lo to Margin over
	// Hi, on a grid of half a Step.
	Lo, Hi, Step, Margin float64
	// Spreads are the scales thought possible, all positive and equally likely;
	// Lapses the lapse rates, 0 <= rate < 1-Guess, equally likely too.
	Spreads, Lapses []float64
}

// DecibelPrior is the prior for a threshold in decibels between lo and hi in
// the odd-one-out trial: spreads of the logistic from 0.5 to 7 dB spaced evenly
// in their logarithm (slopes of 33 to 2 % per dB, before lapses: wider than the range
// seen in detection and discrimination in decibels, 0.7 to 4 dB, common practice, so
// that nobody stands at its edge), lapses of 0 to 5 %, stimuli every decibel.
func DecibelPrior(lo, hi float64) Prior {
	p := Prior{
		Shape: Logistic, Guess: GuessThree, Lo: lo, Hi: hi, Step: 1, Margin: 8,
		Lapses: []float64{0, .02, .05},
	}
	const lowest, highest, spreads = 0.5, 7.0, 9
	for i := range spreads {
		p.Spreads = append(p.Spreads, lowest*math.Pow(highest/lowest, float64(i)/(spreads-1)))
	}
	return p
}

func (p Prior) validate() error {
	switch {
	case !(p.Hi > p.Lo) || !(p.Step > 0) || !(p.Margin >= 0):
		return fmt.Errorf("statistics: levels from %g to %g by %g, margin %g: want lo < hi, a positive step and no negative margin", p.Lo, p.Hi, p.Step, p.Margin)
	case (p.Hi-p.Lo+2*p.Margin)/p.Step > 2000:
		return fmt.Errorf("statistics: more than 2000 levels between %g and %g", p.Lo, p.Hi)
	case !(p.Guess >= 0 && p.Guess < 1):
		return fmt.Errorf("statistics: guess rate %g outside [0, 1)", p.Guess)
	case len(p.Spreads) == 0 || len(p.Lapses) == 0:
		return fmt.Errorf("statistics: a prior needs spreads and lapse rates")
	}
	for _, s := range p.Spreads {
		if !(s > 0) || math.IsInf(s, 0) {
			return fmt.Errorf("statistics: spread %g is not positive and finite", s)
		}
	}
	for _, l := range p.Lapses {
		if !(l >= 0 && l < 1-p.Guess) {
			return fmt.Errorf("statistics: lapse rate %g outside [0, %g)", l, 1-p.Guess)
		}
	}
	return nil
}

// Placement is a Bayesian adaptive track. It keeps the joint posterior of
// threshold, spread and lapse rate on a grid, and places the next stimulus
// where the answer is expected to tell most about the threshold alone: spread
// and lapse rate are averaged over before the information is computed, so that
// no trials go into parameters that nobody asked for.
type Placement struct {
	prior      Prior
	thresholds []float64
	levels     int // number of stimulus levels
	offset     int // threshold index of the lowest stimulus level
	// posterior is indexed [threshold][spread][lapse] in one slice.
	posterior []float64
	// shape[d*len(Spreads)+s] is F at a level d-(len(thresholds)-1) half steps
	// over the threshold.
	shape  []float64
	weight []float64 // scratch, [threshold][spread]
	mass   []float64 // scratch, [threshold]
	trials int
}

// NewPlacement starts a track. It returns an error when the prior is illegal.
func NewPlacement(p Prior) (*Placement, error) {
	if err := p.validate(); err != nil {
		return nil, err
	}
	half := p.Step / 2
	margin := int(math.Ceil(p.Margin / half))
	levels := int(math.Floor((p.Hi-p.Lo)/p.Step+1e-9)) + 1
	count := 2*(levels-1) + 1 + 2*margin
	a := &Placement{prior: p, levels: levels, offset: margin, thresholds: make([]float64, count)}
	for i := range a.thresholds {
		a.thresholds[i] = p.Lo + float64(i-margin)*half
	}
	ns, nl := len(p.Spreads), len(p.Lapses)
	a.posterior = make([]float64, count*ns*nl)
	for i := range a.posterior {
		a.posterior[i] = 1 / float64(len(a.posterior))
	}
	a.shape = make([]float64, (2*count-1)*ns)
	for d := range 2*count - 1 {
		for s, spread := range p.Spreads {
			a.shape[d*ns+s], _ = p.Shape.At(float64(d-count+1) * half / spread)
		}
	}
	a.weight, a.mass = make([]float64, count*ns), make([]float64, count)
	a.marginals()
	return a, nil
}

// Trials returns the number of answers so far.
func (a *Placement) Trials() int { return a.trials }

// negligible is the mass under which a threshold is given up: forty answers in
// a row against all others could not bring it back to a share worth counting.
const negligible = 1e-18

// Answer updates the posterior with the answer to a stimulus that was presented
// at level, which need not be one that Next proposed. It panics when level is
// not finite.
func (a *Placement) Answer(level float64, right bool) {
	if math.IsNaN(level) || math.IsInf(level, 0) {
		panic(fmt.Sprintf("statistics: level %g", level))
	}
	a.trials++
	sum, i, span := 0.0, 0, 1-a.prior.Guess
	for ti, t := range a.thresholds {
		if a.mass[ti] < negligible {
			clear(a.posterior[i:][:len(a.prior.Spreads)*len(a.prior.Lapses)])
			i += len(a.prior.Spreads) * len(a.prior.Lapses)
			continue
		}
		for _, s := range a.prior.Spreads {
			f, _ := a.prior.Shape.At((level - t) / s)
			for _, lapse := range a.prior.Lapses {
				p := a.prior.Guess + (span-lapse)*f
				if !right {
					p = 1 - p
				}
				a.posterior[i] *= p
				sum += a.posterior[i]
				i++
			}
		}
	}
	for i := range a.posterior {
		a.posterior[i] /= sum
	}
	a.marginals()
}

// marginals prepares what Next and the estimates need: the mass of each
// threshold, and for each threshold and spread the mean of the rise of the
// curve from the guess rate, (1 - Guess - Lapse), over the lapse rates.
func (a *Placement) marginals() {
	ns, nl := len(a.prior.Spreads), len(a.prior.Lapses)
	for t := range a.thresholds {
		a.mass[t] = 0
		for s := range ns {
			w, j := 0.0, t*ns+s
			for l, lapse := range a.prior.Lapses {
				m := a.posterior[j*nl+l]
				a.mass[t] += m
				w += m * (1 - a.prior.Guess - lapse)
			}
			a.weight[j] = w
		}
	}
}

// Next returns the level whose answer is expected to lower the entropy of the
// threshold's marginal posterior most; searched to one Step.
func (a *Placement) Next() float64 {
	lo, hi := a.support(1e-3)
	best, at := math.Inf(-1), 0
	try := func(x int) {
		if info := a.information(a.offset+2*x, lo, hi); info > best {
			best, at = info, x
		}
	}
	// The information is smooth over a spread, so every third level finds the
	// hill and its neighbours the top.
	for x := 0; x < a.levels; x += 3 {
		try(x)
	}
	coarse := at
	for x := max(coarse-2, 0); x <= min(coarse+2, a.levels-1); x++ {
		try(x)
	}
	return a.prior.Lo + float64(at)*a.prior.Step
}

// support returns the range of threshold indexes outside which each tail holds
// less than tail of the mass.
func (a *Placement) support(tail float64) (lo, hi int) {
	lo, hi = 0, len(a.mass)
	for sum := a.mass[lo]; sum < tail; sum += a.mass[lo] {
		lo++
	}
	for sum := a.mass[hi-1]; sum < tail; sum += a.mass[hi-1] {
		hi--
	}
	return lo, hi
}

// information is the mutual information, in nats, between the answer at the
// threshold index level and the threshold index, among thresholds lo to hi-1.
func (a *Placement) information(level, lo, hi int) float64 {
	ns := len(a.prior.Spreads)
	all, within, total := 0.0, 0.0, 0.0
	for t := lo; t < hi; t++ {
		m := a.mass[t]
		row := a.shape[(level-t+len(a.thresholds)-1)*ns:][:ns]
		rise := 0.0
		for s, w := range a.weight[t*ns:][:ns] {
			rise += w * row[s]
		}
		if m == 0 {
			continue
		}
		p := a.prior.Guess + rise/m
		all += m * p
		within += m * entropy(p)
		total += m
	}
	return entropy(all/total) - within/total
}

// entropy is that of an answer right with probability p, in nats.
func entropy(p float64) float64 {
	if p <= 0 || p >= 1 {
		return 0
	}
	return -p*math.Log(p) - (1-p)*math.Log1p(-p)
}
