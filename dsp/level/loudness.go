package level

import (
	"fmt"
	"math"
	"slices"

	"quietcross/dsp/weighting"
)

// surround is the BS.1770 weight of a channel between 60 and 120 degrees off
// the front, +1.5 dB as the recommendation rounds it.
const surround = 1.41

// channelWeights lists the BS.1770-5 weights of the usual WAV channel orders by
// channel count: front and rear-centre channels 1, side and rear pairs of the
// three-to-five channel beds 1.41, the low-frequency channel 0.
//
//	1 M   2 L R   3 L R C   4 L R Ls Rs   5 L R C Ls Rs
//	6 L R C LFE Ls Rs   7 L R C LFE Cs Ls Rs   8 L R C LFE Lrs Rrs Lss Rss
//
// In the eight-channel bed the rear pair at 135 degrees weighs 1 and the side
// pair at 90 degrees 1.41.
var channelWeights = [][]float64{
	1: {1},
	2: {1, 1},
	3: {1, 1, 1},
	4: {1, 1, surround, surround},
	5: {1, 1, 1, surround, surround},
	6: {1, 1, 1, 0, surround, surround},
	7: {1, 1, 1, 0, 1, surround, surround},
	8: {1, 1, 1, 0, 1, 1, surround, surround},
}

// Weights returns the loudness weight of each of 1 to 8 channels in the usual
// WAV order (ITU-R BS.1770-5 Annex 3). It panics on another count.
func Weights(channels int) []float64 {
	if channels < 1 || channels > 8 {
		panic(fmt.Sprintf("level: %d channels, legal is 1 to 8", channels))
	}
	return slices.Clone(channelWeights[channels])
}

// Loudness measures programme loudness by ITU-R BS.1770-5 from a stream of
// blocks. It keeps eight bytes for each 100 ms of programme and is not safe for
// concurrent use.
type Loudness struct {
	rate    float64
	weights []float64
	filters []*weighting.Filter
	work    []float64

	// Powers are gathered in steps of a quarter of the 400 ms gating block.
	sums   []float64 // one a channel, of the unfinished step
	frames int64     // seen so far
	until  int64     // the frame at which the unfinished step ends
	filled int64     // frames in the unfinished step
	steps  []float64 // weighted mean square of each finished step
}

// stepsPerSecond is ten: the gating block is 400 ms and overlaps by 75 %.
const stepsPerSecond = 10

// NewLoudness returns a loudness meter for a sample rate in hertz
// ([weighting.MinRate] to [weighting.MaxRate]) and 1 to 8 channels, weighted as
// [Weights] says. It panics outside these.
func NewLoudness(rate float64, channels int) *Loudness {
	m := &Loudness{rate: rate, weights: Weights(channels), sums: make([]float64, channels)}
	for range channels {
		m.filters = append(m.filters, weighting.K(rate))
	}
	m.until = m.boundary(1)
	return m
}

// boundary returns the frame at which step n ends. Rates that are no multiple of
// ten have steps that differ by one frame.
func (m *Loudness) boundary(n int) int64 {
	return int64(math.Round(float64(n) * m.rate / stepsPerSecond))
}

// Add measures block[channel][frame], of any equal lengths. It panics if the
// channels are not those of the meter or differ in length.
func (m *Loudness) Add(block [][]float64) {
	if len(block) != len(m.sums) {
		panic(fmt.Sprintf("level: block of %d channels for a meter of %d", len(block), len(m.sums)))
	}
	for c, x := range block {
		if len(x) != len(block[0]) {
			panic(fmt.Sprintf("level: channel %d has %d frames, channel 0 %d", c, len(x), len(block[0])))
		}
	}
	for at := 0; at < len(block[0]); {
		n := int(min(int64(len(block[0])-at), m.until-m.frames))
		m.gather(block, at, at+n)
		at += n
	}
}

// gather adds frames from..to of block, which lie within one step.
func (m *Loudness) gather(block [][]float64, from, to int) {
	m.work = slices.Grow(m.work[:0], to-from)[:to-from]
	for c, x := range block {
		if m.weights[c] == 0 {
			continue
		}
		m.filters[c].Process(m.work, x[from:to])
		sum := m.sums[c]
		for _, v := range m.work {
			sum += v * v
		}
		m.sums[c] = sum
	}
	m.frames += int64(to - from)
	m.filled += int64(to - from)
	if m.frames == m.until {
		m.finishStep()
	}
}

func (m *Loudness) finishStep() {
	power := 0.0
	for c, s := range m.sums {
		power += m.weights[c] * s / float64(m.filled)
	}
	clear(m.sums)
	m.filled = 0
	m.steps = append(m.steps, power)
	m.until = m.boundary(len(m.steps) + 1)
}

// Integrated returns the gated programme loudness in LUFS of what was added so
// far, and false when no 400 ms block passes the gate: shorter than 400 ms, or
// nothing above -70 LUFS.
func (m *Loudness) Integrated() (DB, bool) { return gated(m.steps) }

// IntegratedAt returns the loudness that [Loudness.Integrated] would have given
// had every sample been amplified by gain. It is less than the sum of the two where
// the gain lifts quiet blocks over the absolute gate.
func (m *Loudness) IntegratedAt(gain DB) (DB, bool) {
	steps := make([]float64, len(m.steps))
	for i, power := range m.steps {
		steps[i] = power * gain.Power()
	}
	return gated(steps)
}

// Meter measures programme loudness and true peak by ITU-R BS.1770-5 from a
// stream of blocks. It is not safe for concurrent use.
type Meter struct {
	*Loudness
	peaks []*truePeak
}

// NewMeter returns a meter for a sample rate and a channel count that
// [NewLoudness] allows. It panics outside these.
func NewMeter(rate float64, channels int) *Meter {
	m := &Meter{Loudness: NewLoudness(rate, channels)}
	for range channels {
		m.peaks = append(m.peaks, newTruePeak())
	}
	return m
}

// Add measures block[channel][frame], of any equal lengths. It panics if the
// channels are not those of the meter or differ in length.
func (m *Meter) Add(block [][]float64) {
	m.Loudness.Add(block)
	for c, x := range block {
		m.peaks[c].add(x)
	}
}

// TruePeak returns the maximum true peak of all channels in dB re full scale
// (dBTP), -Inf before any signal: the waveform between the samples is read from
// a fourfold interpolation (BS.1770-5 Annex 2), refined by a parabola through
// its highest points.
func (m *Meter) TruePeak() DB {
	peak := 0.0
	for _, p := range m.peaks {
		peak = max(peak, p.value())
	}
	return FromAmplitude(peak)
}
