package bs1387

import (
	"fmt"
	"math"
	"sync"

	"quietcross/dsp/level"
	"quietcross/dsp/transform"
)

// The ear model of one frame: lines are weighted by outer and middle ear, grouped
// into bands, raised by internal noise, spread over frequency and smeared over
// time. What a band then holds is its excitation; the envelope of its simplified
// loudness is kept beside it.

// sensation is what the model keeps of one frame of one signal in one channel.
type sensation struct {
	lines      [lineCount]float64 // magnitude of the spectral lines, before the ear
	excitation pattern            // smeared over frequency and time, energy
	level      pattern            // natural logarithm of excitation
	depth      pattern            // modulation depth
	mean       pattern            // mean simplified loudness
	energy     float64            // sum of squares of the frame's second half
}

// ear follows one signal in one channel from frame to frame.
type ear struct {
	model    *model
	power    [lineCount]float64
	past     pattern
	envelope envelope
}

// hear runs the ear model on one frame (BS.1387, 2.1 and 3.2).
func (e *ear) hear(dst *sensation, a *analyser, frame []float64) {
	a.lines(&dst.lines, frame)
	for i, m := range dst.lines {
		e.power[i] = m * m * e.model.outer[i]
	}
	var spread pattern
	e.model.grouping.sum(&spread, &e.power)
	for k := range spread {
		spread[k] += e.model.noise[k]
	}
	e.model.spread.apply(&spread, &spread)
	smear(&dst.excitation, &e.past, &e.model.smear, &spread)
	for k, x := range dst.excitation {
		dst.level[k] = math.Log(x)
	}
	e.envelope.add(&dst.depth, &dst.mean, &e.model.follow, &spread)
	dst.energy = sumOfSquares(frame[frameLength-hop : frameLength])
}

func sumOfSquares(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v * v
	}
	return sum
}

// listener runs the ear model on all channels of one signal.
type listener struct {
	analyser *analyser
	framer   *framer
	ears     []ear
}

// newListener returns a listener at its first sample.
func newListener(c Config) *listener {
	l := &listener{analyser: newAnalyser(c.PlaybackSPL), framer: newFramer(c.Channels), ears: make([]ear, c.Channels)}
	for i := range l.ears {
		l.ears[i].model = standard()
	}
	return l
}

// each feeds a block and calls use at each full frame, which must hear it.
func (l *listener) each(block [][]float64, use func()) {
	for offset := 0; offset < len(block[0]); {
		offset += l.framer.take(block, offset)
		if l.framer.full() {
			use()
		}
	}
}

// hear writes what each channel's full frame sounds like and makes room for the
// next hop.
func (l *listener) hear(dst []sensation) {
	for c := range l.ears {
		l.ears[c].hear(&dst[c], l.analyser, l.framer.buffer[c][:])
	}
	l.framer.advance()
}

// Time constants in seconds: at very high centre frequencies, and at 100 Hz for
// the smearing of excitation (BS.1387, 2.1.8) and for adaptation and modulation
// (BS.1387, 3.1 and 3.2).
const (
	shortest    = 0.008
	smearAt100  = 0.030
	followAt100 = 0.050
)

// timeConstant returns shortest + (100 Hz/f)(at100 - shortest), in seconds.
func timeConstant(f, at100 float64) float64 {
	return shortest + 100/f*(at100-shortest)
}

// newDecay returns for each band the factor by which a first-order filter
// forgets in one hop.
func newDecay(bands *[bandCount]band, at100 float64) (decay pattern) {
	for k, b := range bands {
		decay[k] = math.Exp(-hopTime / timeConstant(b.centre, at100))
	}
	return decay
}

// follow moves state towards x by one hop.
func follow(state *pattern, k int, decay, x float64) float64 {
	state[k] = decay*state[k] + (1-decay)*x
	return state[k]
}

// smear spreads excitation forward in time, the ear's forward masking: the
// larger of the excitation now and its low-passed past (BS.1387, 2.1.8).
func smear(dst, state, decay, excitation *pattern) {
	for k, e := range excitation {
		dst[k] = max(follow(state, k, decay[k], e), e)
	}
}

// model holds the tables that depend on nothing but the standard. It is built
// once and never changes.
type model struct {
	bands    [bandCount]band
	grouping grouping
	outer    [lineCount]float64 // outer- and middle-ear gain of power
	noise    pattern            // internal noise, energy
	mask     pattern            // masked threshold over excitation, ratio
	quiet    pattern            // internal noise under loudnessPower, times 100
	smear    pattern            // forgetting in one hop: smearing
	follow   pattern            // and adaptation and modulation
	spread   *spreading
	loudness *loudness
}

var standard = sync.OnceValue(newModel)

func newModel() *model {
	m := &model{bands: newBands()}
	m.grouping = newGrouping(&m.bands)
	for i := 1; i < lineCount; i++ {
		m.outer[i] = outerEar(float64(i) * lineSpacing).Power()
	}
	for k, b := range m.bands {
		m.noise[k] = internalNoise(b.centre).Power()
		m.mask[k] = (-maskOffset(k)).Power()
		m.quiet[k] = levelWeight * internalLoudness(m.noise[k])
	}
	m.smear = newDecay(&m.bands, smearAt100)
	m.follow = newDecay(&m.bands, followAt100)
	m.spread = newSpreading(&m.bands)
	m.loudness = newLoudness(&m.bands)
	return m
}

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
