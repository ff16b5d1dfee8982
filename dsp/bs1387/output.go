package bs1387

import (
	"math"
)

// Three momentary output variables: how much the modulation of the bands differs,
// how the difference of the spectra stands to the masked threshold, and up to which
// line each signal reaches above the test's own noise.

// Constants of the modulation differences, BS.1387, 4.2, FFT-based model.
const (
	levelWeight = 100.0 // weight of the internal noise in a frame's weight

	offset1 = 1.0
	offset2 = 0.01
	falling = 0.1 // weight of a loss of modulation in the second difference
)

// internalLoudness is the simplified loudness of an energy, BS.1387, 3.2.
func internalLoudness(energy float64) float64 { return math.Pow(energy, loudnessPower) }

// modulationDifference returns the two momentary modulation differences of a
// frame in percent and the weight the frame has in a weighted average: near 1
// where the reference is loud, small where internal noise dominates.
func (m *model) modulationDifference(ref, test *sensation) (first, second, weight float64) {
	for k, r := range ref.depth {
		difference := test.depth[k] - r
		rise := math.Abs(difference)
		first += rise / (offset1 + r)
		if difference < 0 {
			rise *= falling
		}
		second += rise / (offset2 + r)
		weight += ref.mean[k] / (ref.mean[k] + m.quiet[k])
	}
	return first * 100 / bandCount, second * 100 / bandCount, weight
}

// disturbed is the ratio of noise to mask above which a frame counts as
// disturbed: 1.5 dB, BS.1387, 4.6.
var disturbed = math.Pow(10, 0.15)

// noiseToMask returns the mean over the bands of the ratio of the difference
// between the outer-ear weighted spectra to the masked threshold of the
// reference, and the largest of these ratios (BS.1387, 3.4, 4.5 and 4.6).
// power is scratch.
func (m *model) noiseToMask(power *[lineCount]float64, ref, test *sensation) (mean, largest float64) {
	for i, r := range ref.lines {
		difference := r - test.lines[i]
		power[i] = difference * difference * m.outer[i]
	}
	var noise pattern
	m.grouping.sum(&noise, power)
	for k, n := range noise {
		ratio := n / (ref.excitation[k] * m.mask[k])
		mean += ratio
		largest = max(largest, ratio)
	}
	return mean / bandCount, largest
}

// Constants of the bandwidth search, BS.1387, 4.4.
const (
	firstNoiseLine   = 921 // 21.6 kHz: above it the test is taken to be noise
	minimumBandwidth = 346 // 8.1 kHz: frames with less are not averaged
	bandwidthRefOver = 10  // dB
	bandwidthTstOver = 5   // dB
)

var (
	refRatio  = math.Pow(10, bandwidthRefOver/20.)
	testRatio = math.Pow(10, bandwidthTstOver/20.)
)

// bandwidths returns how many lines of the reference and of the test stand above
// the noise that the test has near the top of the spectrum. The test is searched
// within the bandwidth of the reference only.
func bandwidths(ref, test *[lineCount]float64) (ofRef, ofTest int) {
	noise := 0.0
	for _, m := range test[firstNoiseLine:hop] {
		noise = max(noise, m)
	}
	ofRef = highest(ref[:firstNoiseLine], noise*refRatio)
	return ofRef, highest(test[:ofRef], noise*testRatio)
}

// highest returns one more than the index of the last line at or above minimum,
// or 0.
func highest(lines []float64, minimum float64) int {
	for i := len(lines) - 1; i >= 0; i-- {
		if lines[i] >= minimum {
			return i + 1
		}
	}
	return 0
}

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

// compare adds frame n to the channel's averages. loudFrom is the first frame after
// both signals were loud enough.
func (c *channel) compare(w *workshop, n, loudFrom int, ref, test *sensation) {
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
