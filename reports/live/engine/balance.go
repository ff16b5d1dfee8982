package engine

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"quietcross/dsp/level"
	"quietcross/dsp/shape"
	"quietcross/dsp/weighting"
)

// A balance follows the gain of a stage while it runs: the one that makes its output
// as loud as the reference (K-weighted power, ITU-R BS.1770-5, without the gate) and
// the one that fits the reference best, which is taken out for the residual. Both are
// means that forget by a factor e in a second. When one law is faded into another they
// would lag behind; so for the length of the fade they are not measured but moved, by
// what the two laws make of the last two seconds of input.
type balance struct {
	rate      float64
	weights   []float64
	filters   [2][]*weighting.Filter // of output and reference
	loud      [2]float64             // weighted power
	cross     float64
	power     float64
	work      []float64
	recent    [][]float64 // every thinned input of each channel, V, rings longer than foresight
	foresight int         // how many of them tell what a law would make of the sound
	thinned   int         // frames from one kept input to the next
	offset    int         // frames until the next
	at        int
	lastGood  gains
	fade      *fadeBalance // nil outside a fade
}

// fadeBalance is where the means were before a fade, and what the new law has to the old
// one: the ratio of their outputs' amplitudes and of what fits the input best.
type fadeBalance struct{ loud, cross, amplitude, fit float64 }

// gains are what a balance tells.
type gains struct {
	match  float64 // makes the output as loud as the reference, with its polarity
	fitted float64 // output over reference
}

const (
	balanceSeconds = 1.0
	recentSeconds  = 2.0
	recentRate     = weighting.MinRate // at least, of what is kept, Hz
	// minimumPower is that below which nothing is to be measured, re full scale.
	minimumPower = 1e-14
	// maximumMatch bounds the matching gain, as the render command does.
	maximumMatch level.DB = 60
)

// newBalance begins with the gains of a law over a middling swing, V.
func newBalance(rate float64, channels int, law *shape.Law, swing float64) *balance {
	fitted := (law.At(swing) - law.At(-swing)) / (2 * swing)
	b := &balance{
		rate: rate, weights: level.Weights(channels), work: make([]float64, MaximumBlock),
		thinned: max(1, int(rate/recentRate)), lastGood: gains{match: 1, fitted: fitted},
	}
	b.foresight = int(recentSeconds*rate) / b.thinned
	if fitted != 0 {
		b.lastGood.match = 1 / fitted
	}
	for range channels {
		b.recent = append(b.recent, make([]float64, b.foresight+int(rewindSeconds*rate)/b.thinned+1))
	}
	b.filters = newFilters(rate, channels)
	return b
}

// newFilters returns those of output and reference.
func newFilters(rate float64, channels int) (filters [2][]*weighting.Filter) {
	for side := range filters {
		for range channels {
			filters[side] = append(filters[side], weighting.K(rate))
		}
	}
	return filters
}

// resume puts the balance where another one of the same player was. The rings of recent input
// are the same for both.
func (b *balance) resume(other *balance) {
	filters := b.filters
	*b = *other
	b.filters = filters
	for side := range b.filters {
		for c := range b.filters[side] {
			b.filters[side][c].Resume(other.filters[side][c])
		}
	}
}

// measure takes a block of every channel: output and reference re full scale.
func (b *balance) measure(output, reference [][]float64) {
	keep := math.Exp(-float64(len(output[0])) / (balanceSeconds * b.rate))
	b.power *= keep
	b.loud[1] *= keep
	for _, x := range reference {
		b.power += floats.Dot(x, x)
	}
	b.loud[1] += b.weigh(1, reference)
	heard := b.weigh(0, output) // in a fade too, for the filters' state
	if b.fade != nil {
		return
	}
	b.cross *= keep
	for c, x := range output {
		b.cross += floats.Dot(x, reference[c])
	}
	b.loud[0] = b.loud[0]*keep + heard
}

// weigh returns the weighted power of a block of one side.
func (b *balance) weigh(side int, audio [][]float64) (sum float64) {
	for c, x := range audio {
		if b.weights[c] == 0 {
			continue
		}
		y := b.work[:len(x)]
		b.filters[side][c].Process(y, x)
		sum += b.weights[c] * floats.Dot(y, y)
	}
	return sum
}

// gains returns the present gains; where nothing can be measured, the last ones.
func (b *balance) gains() gains {
	if b.power < minimumPower*b.rate || b.loud[0] <= 0 || b.loud[1] < minimumPower*b.rate {
		return b.lastGood
	}
	g := gains{match: math.Sqrt(b.loud[1] / b.loud[0]), fitted: b.cross / b.power}
	if !(g.match <= maximumMatch.Amplitude()) {
		g.match = 1
	}
	if g.fitted < 0 {
		g.match = -g.match
	}
	b.lastGood = g
	return g
}

// note keeps some of a block of stage input, V.
func (b *balance) note(in [][]float64) {
	i := b.offset
	for ; i < len(in[0]); i += b.thinned {
		for c, x := range in {
			b.recent[c][b.at] = x[i]
		}
		b.at = (b.at + 1) % len(b.recent[0])
	}
	b.offset = i - len(in[0])
}

// begin begins a fade from one law to another, and returns how many times the amplitude of
// the one before the new one has.
func (b *balance) begin(from, to *shape.Law) (amplitude float64) {
	var power, cross [2]float64
	for i, law := range []*shape.Law{from, to} {
		power[i], cross[i] = b.foresee(law)
	}
	b.fade = &fadeBalance{loud: b.loud[0], cross: b.cross, amplitude: 1, fit: 1}
	if power[0] > 0 && power[1] > 0 {
		b.fade.amplitude = math.Sqrt(power[1] / power[0])
	}
	if cross[0] != 0 && cross[1] != 0 {
		b.fade.fit = cross[1] / cross[0]
	}
	return b.fade.amplitude
}

// foresee returns what a law makes of the recent input: the weighted power of its output
// and what fits the input best, what is older counting less, as in the means. Thinned
// input has aliases, which change neither much.
func (b *balance) foresee(law *shape.Law) (power, cross float64) {
	rest, rate := law.At(0), b.rate/float64(b.thinned)
	grow := math.Exp(1 / (balanceSeconds * rate))
	for c, x := range b.recent {
		k, age := weighting.K(rate), 1.0
		oldest := b.at + len(x) - b.foresight
		for from := 0; from < b.foresight; from += MaximumBlock {
			y := b.work[:min(MaximumBlock, b.foresight-from)]
			for i := range y {
				v := x[(oldest+from+i)%len(x)]
				y[i] = law.At(v) - rest
				cross += age * v * y[i]
				age *= grow
			}
			k.Process(y, y)
			power += b.weights[c] * age * floats.Dot(y, y)
		}
	}
	return power, cross
}

// move tells what share of a fade the new law has; 1 ends it. The two outputs are much
// alike, so their amplitudes mix as they do.
func (b *balance) move(share float64) {
	f := b.fade
	amplitude := 1 + share*(f.amplitude-1)
	b.loud[0] = f.loud * amplitude * amplitude
	b.cross = f.cross * (1 + share*(f.fit-1))
	if share == 1 {
		b.fade = nil
	}
}
