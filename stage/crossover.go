package stage

import "math"

// Crossover describes the transfer curve around the hand-over from one device to
// the other. Gains are sizes of the incremental gain; inputs are volts.
type Crossover struct {
	Full      float64 // gain at half the clipping onset, the lesser of the two sides
	Minimum   float64 // minimum gain between those two inputs
	MinimumAt float64 // where it is
	// Width is the distance between the outermost inputs at which the gain crosses
	// the middle between Minimum and Full: the width at half depth of the whole
	// crossover region. It is 0 where no gain is under Full.
	Width float64
	// DeadZone is the distance between the outermost inputs at which the gain
	// crosses half of Full: what a listener of an unbiased stage hears as missing.
	// It is 0 when the gain never falls so far.
	DeadZone float64
}

// surveyStep is the input distance of the crossover survey, in volts: about
// kT/q, the scale of any feature there.
const surveyStep = 0.02

// surveyStep is the input distance of the survey: a driver's gain before the
// output stage makes the features there so much narrower.
func (b *Biased) surveyStep() (float64, error) {
	if !b.stage.HasDriver() {
		return surveyStep, nil
	}
	before := 1.0
	for _, in := range []float64{b.clipping[0] / 2, b.clipping[1] / 2} {
		g, err := b.gain(in)
		if err != nil {
			return 0, err
		}
		before = max(before, g)
	}
	return surveyStep / before, nil
}

// Crossover surveys the crossover region between half of the clipping onsets.
// The half-depth width is this program's own measure, in the manner of the full
// width at half maximum of a line; for an unbiased pair it is the dead zone.
func (b *Biased) Crossover() (Crossover, error) {
	lo, hi := b.clipping[0]/2, b.clipping[1]/2
	step, err := b.surveyStep()
	if err != nil {
		return Crossover{}, err
	}
	steps := min(max(int((hi-lo)/step), 100), 4000)
	inputs, gains := make([]float64, steps+1), make([]float64, steps+1)
	minimum := 0
	for i := range gains {
		inputs[i] = lo + (hi-lo)*float64(i)/float64(steps)
		g, err := b.gain(inputs[i])
		if err != nil {
			return Crossover{}, err
		}
		gains[i] = g
		if g < gains[minimum] {
			minimum = i
		}
	}
	c := Crossover{Full: min(gains[0], gains[steps])}
	at, err := b.minimumGain(inputs[max(minimum-1, 0)], inputs[min(minimum+1, steps)])
	if err != nil {
		return Crossover{}, err
	}
	c.MinimumAt = at
	if c.Minimum, err = b.gain(at); err != nil {
		return Crossover{}, err
	}
	if c.Minimum >= c.Full*(1-1e-9) {
		return c, nil
	}
	if c.Width, err = b.widthAt((c.Minimum+c.Full)/2, inputs, gains); err != nil {
		return Crossover{}, err
	}
	c.DeadZone, err = b.widthAt(c.Full/2, inputs, gains)
	return c, err
}

// minimumGain closes in on the minimum gain between two inputs by golden section.
func (b *Biased) minimumGain(from, to float64) (float64, error) {
	const golden = 0.6180339887498949
	for range 60 {
		p, q := to-golden*(to-from), from+golden*(to-from)
		gp, err := b.gain(p)
		if err != nil {
			return 0, err
		}
		gq, err := b.gain(q)
		if err != nil {
			return 0, err
		}
		if gp < gq {
			to = q
		} else {
			from = p
		}
	}
	return from + (to-from)/2, nil
}

// widthAt returns the distance between the outermost crossings of a gain level
// from above, 0 if the surveyed gain never falls under it.
func (b *Biased) widthAt(level float64, inputs, gains []float64) (float64, error) {
	first, last := -1, -1
	for i, g := range gains {
		if g < level {
			if first < 0 {
				first = i
			}
			last = i
		}
	}
	if first <= 0 || last >= len(gains)-1 {
		return 0, nil
	}
	left, err := b.gainCrossing(level, inputs[first-1], inputs[first])
	if err != nil {
		return 0, err
	}
	right, err := b.gainCrossing(level, inputs[last+1], inputs[last])
	return math.Abs(right - left), err
}
