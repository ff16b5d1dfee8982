package bs1387

import (
	"math"
)

// Averages over time: each frame of each channel adds its output variables, once
// adaptation has settled and both signals have been loud enough, to linear, weighted
// or windowed means.

// Frames and levels that averages wait for, BS.1387, 5.2.4.
const (
	delayedAverage = 0.5   // s before adaptation has settled (5.2.4.1)
	loudEnough     = 0.1   // sone, both signals (5.2.4.2)
	loudDelay      = 0.050 // s after that (5.2.4.2)
)

var (
	firstSettled = int(math.Ceil(delayedAverage / hopTime))
	framesToLoud = int(math.Ceil(loudDelay / hopTime))
)

// tally averages the output variables of one channel.
type tally struct {
	bandwidthRef, bandwidthTest mean
	noiseToMask, segmental      mean
	disturbed                   mean
	windowed                    windowed
	modulation1, modulation2    mean
	noiseLoudness               mean // of squares
	harmonics                   mean
}

// channel compares one channel of the test with the same channel of the
// reference.
type channel struct {
	adaptation              adaptation
	adaptedRef, adaptedTest pattern
	tally                   tally
}

// workshop holds what the channels of one comparison share: tables and scratch.
type workshop struct {
	model     *model
	harmonics *harmonics
	power     [lineCount]float64
}

// compare adds frame n to the channel's averages and returns its ratio of noise
// to mask. loudFrom is the first frame after both signals were loud enough.
func (c *channel) compare(w *workshop, n, loudFrom int, ref, test *sensation) (noiseToMask float64) {
	m := w.model
	c.adaptation.apply(&c.adaptedRef, &c.adaptedTest, &m.follow, &ref.excitation, &test.excitation)
	if n >= firstSettled {
		first, second, weight := m.modulationDifference(ref, test)
		c.tally.windowed.add(first)
		c.tally.modulation1.add(first, weight)
		c.tally.modulation2.add(second, weight)
	}
	if n >= max(firstSettled, loudFrom) {
		loud := m.noiseLoudness(&c.adaptedRef, &c.adaptedTest, ref, test)
		c.tally.noiseLoudness.add(loud*loud, 1)
	}
	if ref.energy >= quietEnergy || test.energy >= quietEnergy {
		c.tally.harmonics.add(w.harmonics.peak(&ref.lines, &test.lines), 1)
	}
	c.tally.addBandwidths(bandwidths(&ref.lines, &test.lines))
	average, largest := m.noiseToMask(&w.power, ref, test)
	c.tally.addNoiseToMask(average, largest)
	return average
}

func (t *tally) addBandwidths(ref, test int) {
	if ref > minimumBandwidth {
		t.bandwidthRef.add(float64(ref), 1)
		t.bandwidthTest.add(float64(test), 1)
	}
}

func (t *tally) addNoiseToMask(average, largest float64) {
	t.noiseToMask.add(average, 1)
	t.segmental.add(10*math.Log10(average), 1)
	hit := 0.0
	if largest > disturbed {
		hit = 1
	}
	t.disturbed.add(hit, 1)
}

// Averages over time, BS.1387, 5.2. The value of an empty average is 0.

// mean is a linear or, with weights, a weighted average.
type mean struct{ sum, weight float64 }

func (m *mean) add(x, weight float64) {
	m.sum += x * weight
	m.weight += weight
}

func (m *mean) value() float64 {
	if m.weight == 0 {
		return 0
	}
	return m.sum / m.weight
}

// windowLength is the number of frames, about 100 ms, in a windowed average.
const windowLength = 4

// windowed is the average that WinModDiff1B asks for (BS.1387, 5.2.3): the root
// of the mean of the fourth powers of the means of four square roots, which
// gives short bursts their due.
type windowed struct {
	last  [windowLength]float64
	count int
	sum   float64
}

func (w *windowed) add(x float64) {
	w.last[w.count%windowLength] = math.Sqrt(x)
	w.count++
	if w.count < windowLength {
		return
	}
	inner := 0.0
	for _, v := range w.last {
		inner += v / windowLength
	}
	w.sum += inner * inner * inner * inner
}

func (w *windowed) value() float64 {
	if w.count < windowLength {
		return 0
	}
	return math.Sqrt(w.sum / float64(w.count-windowLength+1))
}
