package bs1387

import (
	"fmt"
	"math"
	"sync"

	"quietcross/dsp/level"
	"quietcross/dsp/transform"
)

// From samples to spectral lines: channels are cut into frames of 2048 samples that
// overlap by half, each is windowed (Hann) and transformed, and the magnitudes are
// scaled so that a full-scale sine reads the playback level.

// calibrationTone is the frequency, in hertz, of the full-scale sine that fixes
// the playback level, BS.1387, 2.1.3.
const calibrationTone = 1019.5

// analyser turns a frame of samples into the magnitudes of its spectral lines
// in units of 20 µPa, BS.1387, 2.1.3.
type analyser struct {
	transformer *transform.Real
	window      *[frameLength]float64
	scaled      [frameLength]float64
	scale       float64
}

// newAnalyser fixes the scale so that the largest line of a full-scale sine at
// 1019.5 Hz reads playback.
func newAnalyser(playback level.DB) *analyser {
	a := &analyser{transformer: transform.New(frameLength), window: hann()}
	a.scale = playback.Amplitude() / calibration()
	return a
}

// hann is the window of the model: a Hann window times √(8/3).
var hann = sync.OnceValue(func() *[frameLength]float64 {
	w := new([frameLength]float64)
	for n := range w {
		w[n] = math.Sqrt(8.0/3) * 0.5 * (1 - math.Cos(2*math.Pi*float64(n)/(frameLength-1)))
	}
	return w
})

// calibration is the largest line, before scaling, that ten frames of a
// full-scale 1019.5 Hz sine produce.
var calibration = sync.OnceValue(func() float64 {
	a := &analyser{transformer: transform.New(frameLength), window: hann(), scale: 1}
	var frame [frameLength]float64
	var lines [lineCount]float64
	largest := 0.0
	for n := range 10 {
		for i := range frame {
			frame[i] = math.Sin(2 * math.Pi * calibrationTone * float64(n*hop+i) / Rate)
		}
		a.lines(&lines, frame[:])
		for _, m := range lines {
			largest = max(largest, m)
		}
	}
	return largest
})

// lines writes the magnitude of every line of one frame to dst.
func (a *analyser) lines(dst *[lineCount]float64, frame []float64) {
	for n, x := range frame[:frameLength] {
		a.scaled[n] = x * a.window[n]
	}
	a.transformer.Magnitudes(dst[:], a.scaled[:], a.scale)
}

// framer cuts channels into frames of frameLength samples, hop apart. The first
// frame starts at the first sample.
type framer struct {
	buffer [][frameLength]float64
	filled int
}

func newFramer(channels int) *framer {
	return &framer{buffer: make([][frameLength]float64, channels)}
}

// take copies samples of block, from frame offset on, until the buffer is full
// or the block used up. It returns how many frames it took.
func (f *framer) take(block [][]float64, offset int) int {
	n := min(frameLength-f.filled, len(block[0])-offset)
	for c, samples := range block {
		copy(f.buffer[c][f.filled:], samples[offset:offset+n])
	}
	f.filled += n
	return n
}

func (f *framer) full() bool { return f.filled == frameLength }

// advance makes room for the next hop.
func (f *framer) advance() {
	for c := range f.buffer {
		copy(f.buffer[c][:], f.buffer[c][hop:])
	}
	f.filled -= hop
}

// mustMatch panics unless block holds the given number of channels, all as long
// as the first of like.
func mustMatch(what string, block [][]float64, channels int, like [][]float64) {
	if len(block) != channels {
		panic(fmt.Sprintf("bs1387: %s has %d channels, want %d", what, len(block), channels))
	}
	for c, samples := range block {
		if len(samples) != len(like[0]) {
			panic(fmt.Sprintf("bs1387: %s channel %d has %d frames, want %d", what, c, len(samples), len(like[0])))
		}
	}
}
