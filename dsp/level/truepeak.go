package level

import (
	"math"

	"quietcross/dsp/kaiser"
)

// The interpolator of the true-peak meter: fourfold, 32 taps a phase, a
// Kaiser-windowed sinc. Its gain is 1 within 0.03 dB up to 0.45 of the rate
// (20 kHz at 44.1 kHz), which its test measures.
const (
	peakFactor = 4
	peakTaps   = 32
	peakKaiser = 4.6
	peakChunk  = 64
)

var peakPhases, peakBound = designPeakPhases()

// designPeakPhases returns the taps of the three phases between the samples, and
// the maximum gain any of them, refined by the parabola, can show.
func designPeakPhases() (phases [peakFactor - 1][peakTaps]float64, bound float64) {
	for p := range phases {
		offset := float64(p+1) / peakFactor
		sum, norm := 0.0, 0.0
		for k := range peakTaps {
			// Tap k meets the sample k-(peakTaps/2-1) after the one before the gap.
			t := float64(k-(peakTaps/2-1)) - offset
			phases[p][k] = kaiser.Sinc(t) * kaiser.Window(t/(peakTaps/2), peakKaiser)
			sum += phases[p][k]
		}
		for k := range peakTaps {
			phases[p][k] /= sum
			norm += math.Abs(phases[p][k])
		}
		bound = max(bound, norm)
	}
	// A parabola through three values of at most B, the middle one maximum in
	// magnitude, rises to at most 1.25 B: the neighbours are within -B..B.
	return phases, bound * 1.25
}

// truePeak follows the true peak of one channel.
type truePeak struct {
	// buffer holds peakTaps-1 samples of the past, then the chunk being gathered.
	buffer [peakTaps - 1 + peakChunk]float64
	filled int // of the chunk
	before [2]float64
	peak   float64
}

func newTruePeak() *truePeak { return &truePeak{} }

func (t *truePeak) add(x []float64) {
	for len(x) > 0 {
		n := copy(t.buffer[peakTaps-1+t.filled:], x)
		t.filled += n
		x = x[n:]
		if t.filled == peakChunk {
			t.measure(t.buffer[:], peakChunk)
			copy(t.buffer[:peakTaps-1], t.buffer[peakChunk:])
			t.filled = 0
		}
	}
}

// measure reads the chunk of n samples that follows the past in buffer. A chunk
// whose samples are too low to raise the peak whatever their signs is skipped.
func (t *truePeak) measure(buffer []float64, n int) {
	high := Peak(buffer[:peakTaps-1+n])
	if high*peakBound <= t.peak {
		t.before = [2]float64{math.NaN(), math.NaN()} // no parabola across the gap
		return
	}
	for i := range n {
		window := buffer[i : i+peakTaps]
		t.next(window[peakTaps/2-1])
		for p := range peakPhases {
			sum := 0.0
			for k, c := range &peakPhases[p] {
				sum += c * window[k]
			}
			t.next(sum)
		}
	}
}

// next takes the next value of the interpolated waveform.
func (t *truePeak) next(v float64) {
	left, mid := t.before[0], t.before[1]
	t.before = [2]float64{mid, v}
	t.peak = max(t.peak, math.Abs(v))
	if mid < 0 {
		left, mid, v = -left, -mid, -v
	}
	if mid*1.25 <= t.peak || mid < left || mid < v {
		return
	}
	if bend := left - 2*mid + v; bend < 0 {
		t.peak = max(t.peak, mid-(left-v)*(left-v)/(8*bend))
	}
}

// value returns the peak so far, samples still waiting and the decay of the
// interpolator after the last of them included.
func (t *truePeak) value() float64 {
	tail := *t
	flushed := make([]float64, peakTaps-1+t.filled+peakTaps)
	copy(flushed, t.buffer[:peakTaps-1+t.filled])
	tail.measure(flushed, t.filled+peakTaps)
	return max(tail.peak, Peak(flushed))
}
