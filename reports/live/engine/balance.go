package engine

import (
	"math"

	"quietcross/dsp/level"
	"quietcross/dsp/shape"
	"quietcross/dsp/weighting"
)

// A balance follows the gain of a stage while it runs: the one that makes its output
// as loud as the reference (K-weighted power, ITU-R BS.1770-5, without the gate) and
// the one that fits the reference best, which is taken out for the residual. Both are
// means that forget by a factor e in a second. When the law changes they would lag
// behind it; so they are moved at once by what the two laws make of the last two
// seconds of input.
type balance struct {
	rate     float64
	weights  []float64
	filters  [2][]*weighting.Filter // of output and reference
	loud     [2]float64             // weighted power
	cross    float64
	power    float64
	work     []float64
	recent   []float64 // every thinning-th input, V, a ring
	at       int
	offset   int // frames until the next one to keep
	lastGood gains
}

// gains are what a balance tells.
type gains struct {
	match  float64 // makes the output as loud as the reference, with its polarity
	fitted float64 // output over reference
}

const (
	balanceSeconds = 1.0
	recentSeconds  = 2.0
	thinning       = 7 // frames from one kept input to the next
	// minimumPower is that below which nothing is to be measured, re full scale.
	minimumPower = 1e-14
	// maximumMatch bounds the matching gain, as the render command does.
	maximumMatch level.DB = 60
)

// newBalance begins with the gains of a law over a middling swing, V.
func newBalance(rate float64, channels int, law *shape.Law, swing float64) *balance {
	fitted := (law.At(swing) - law.At(-swing)) / (2 * swing)
	b := &balance{
		rate: rate, weights: level.Weights(channels), work: make([]float64, maximumBlock),
		recent: make([]float64, int(recentSeconds*rate)/thinning), lastGood: gains{match: 1, fitted: fitted},
	}
	if fitted != 0 {
		b.lastGood.match = 1 / fitted
	}
	for side := range b.filters {
		for range channels {
			b.filters[side] = append(b.filters[side], weighting.K(rate))
		}
	}
	return b
}

// measure takes a block of every channel: output and reference re full scale.
func (b *balance) measure(output, reference [][]float64) gains {
	keep := math.Exp(-float64(len(output[0])) / (balanceSeconds * b.rate))
	b.cross *= keep
	b.power *= keep
	for c := range output {
		for i, r := range reference[c] {
			b.cross += output[c][i] * r
			b.power += r * r
		}
	}
	for side, audio := range [][][]float64{output, reference} {
		b.loud[side] *= keep
		for c, x := range audio {
			if b.weights[c] == 0 {
				continue
			}
			b.filters[side][c].Process(b.work[:len(x)], x)
			for _, v := range b.work[:len(x)] {
				b.loud[side] += b.weights[c] * v * v
			}
		}
	}
	return b.gains()
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
func (b *balance) note(in []float64) {
	i := b.offset
	for ; i < len(in); i += thinning {
		b.recent[b.at] = in[i]
		b.at = (b.at + 1) % len(b.recent)
	}
	b.offset = i - len(in)
}

// change moves the means from one law to another.
func (b *balance) change(from, to *shape.Law) {
	var power, cross [2]float64
	for i, law := range []*shape.Law{from, to} {
		rest := law.At(0)
		for _, x := range b.recent {
			y := law.At(x) - rest
			power[i] += y * y
			cross[i] += x * y
		}
	}
	if power[0] > 0 && power[1] > 0 {
		b.loud[0] *= power[1] / power[0]
	}
	if cross[0] != 0 {
		b.cross *= cross[1] / cross[0]
	}
}
