package bs1387

import (
	"math"
	"math/cmplx"

	"quietcross/dsp/transform"
)

// A second predictor, not part of the Recommendation: gammatone bands of reference
// and test, cut into frames of 30 ms, and the maximum of their cross-correlation in
// each band, weighted by level and averaged.

// Sizes of the correlation, after Tan et al.: frames of 30 ms, lags up to 10 ms.
// The two together fit into a frame of the transform.
const (
	correlationFrame = 1440
	correlationLag   = 480

	// correlationRange is how far below the strongest band of a frame, in dB, a
	// band loses all weight.
	correlationRange = 40.0

	// correlationSilence is the mean square under which both frames are taken to
	// be silence: 87 dB under a full-scale sine.
	correlationSilence = 1e-9
)

// Correlation is the answer of a [Correlator].
type Correlation struct {
	// Frames is the number of frames of 30 ms compared.
	Frames int `json:"frames"`
	// Mean is the mean correlation over frames, 1 for no distortion.
	Mean float64 `json:"mean"`
	// Minimum is the lowest correlation of a frame and MinimumTime the start of that
	// frame in seconds.
	Minimum     float64 `json:"minimum"`
	MinimumTime float64 `json:"minimum_time_s"`
}

// Correlator is a second predictor of what nonlinear distortion sounds like,
// which shares nothing with the [Comparator] but the outer ear: the correlation
// of a signal with its distorted copy in the bands of the ear. It follows
// C.-T. Tan, B. C. J. Moore, N. Zacharov and V.-V. Mattila, Predicting the
// perceived quality of nonlinearly distorted music and speech signals, JAES 52
// (2004), as far as its steps were at hand: outer and middle ear, 40 gammatone
// bands, frames of 30 ms, the maximum normalised cross-correlation within
// ±10 ms in each band, weights by the level of the distorted signal that add to
// one, and the mean over bands and frames.
//
// Details not at hand, and what was chosen: the ear's transfer function is that
// of BS.1387, 2.1.4, taken at each band's centre; bands lie one equivalent
// rectangular bandwidth apart from 50 Hz (to 18.2 kHz); frames do not overlap;
// the weight of a band falls linearly with its level, from 1 for the strongest
// of the frame to 0 at 40 dB below it; frames 87 dB or more under a full-scale
// sine are left out; channels are averaged. The paper's mapping to a quality rating is not applied.
//
// The measure knows neither playback level nor threshold: distortion far too
// weak to be heard still lowers it a little. It takes some twelve times as long as
// the [Comparator].
type Correlator struct {
	channels []correlatorChannel
	engine   correlationEngine
	filled   int
	frame    int
	result   Correlation
	sum      float64
}

// correlatorChannel holds one channel's filters and the frame being filled.
type correlatorChannel struct {
	ref, test            [gammatoneBands]gammatone
	frameRef, frameTest  [correlationFrame]float64
	bandRef, bandTest    [correlationFrame]float64
	levels, correlations [gammatoneBands]float64
}

// NewCorrelator returns a correlator, or an error if the configuration is
// outside its legal ranges. The playback level has no effect.
func NewCorrelator(c Config) (*Correlator, error) {
	c, err := c.checked()
	if err != nil {
		return nil, err
	}
	r := &Correlator{channels: make([]correlatorChannel, c.Channels), engine: newCorrelationEngine()}
	for i := range r.channels {
		for b := range gammatoneBands {
			r.channels[i].ref[b] = newGammatone(gammatoneCentre(b))
			r.channels[i].test[b] = newGammatone(gammatoneCentre(b))
		}
	}
	return r, nil
}

// Add compares the next block of both signals, as [Comparator.Add] does.
func (r *Correlator) Add(ref, test [][]float64) {
	mustMatch("reference", ref, len(r.channels), ref)
	mustMatch("test", test, len(r.channels), ref)
	for offset := 0; offset < len(ref[0]); {
		n := min(correlationFrame-r.filled, len(ref[0])-offset)
		for c := range r.channels {
			copy(r.channels[c].frameRef[r.filled:], ref[c][offset:offset+n])
			copy(r.channels[c].frameTest[r.filled:], test[c][offset:offset+n])
		}
		offset += n
		if r.filled += n; r.filled == correlationFrame {
			r.compare()
			r.filled = 0
		}
	}
}

// compare correlates a full frame of every channel.
func (r *Correlator) compare() {
	total, heard := 0.0, 0
	for c := range r.channels {
		if x, ok := r.channels[c].correlate(&r.engine); ok {
			total += x
			heard++
		}
	}
	if heard > 0 {
		r.note(total / float64(heard))
	}
	r.frame++
}

func (r *Correlator) note(x float64) {
	if r.result.Frames == 0 || x < r.result.Minimum {
		r.result.Minimum = x
		r.result.MinimumTime = float64(r.frame) * correlationFrame / Rate
	}
	r.result.Frames++
	r.sum += x
}

// Result returns the correlation of what has been added so far.
func (r *Correlator) Result() Correlation {
	out := r.result
	if out.Frames > 0 {
		out.Mean = r.sum / float64(out.Frames)
	}
	return out
}

// correlate filters the frame into bands and returns their weighted mean
// correlation, or false if there is nothing to compare.
func (c *correlatorChannel) correlate(e *correlationEngine) (float64, bool) {
	loudest := 0.0
	for b := range gammatoneBands {
		c.ref[b].process(c.bandRef[:], c.frameRef[:])
		c.test[b].process(c.bandTest[:], c.frameTest[:])
		c.levels[b] = sumOfSquares(c.bandTest[:]) * e.ear[b]
		c.correlations[b] = e.maximum(&c.bandRef, &c.bandTest)
		loudest = max(loudest, c.levels[b])
	}
	sum, weights := 0.0, 0.0
	for b, energy := range c.levels {
		weight := max(0, 1+10*math.Log10(energy/loudest)/correlationRange)
		if weight > 0 {
			sum += weight * c.correlations[b]
			weights += weight
		}
	}
	return sum / weights, weights > 0 && c.audible()
}

// audible reports whether the frame is more than silence in both signals or
// in one.
func (c *correlatorChannel) audible() bool {
	most := max(sumOfSquares(c.frameRef[:]), sumOfSquares(c.frameTest[:]))
	return most > correlationSilence*correlationFrame
}

// correlationEngine finds the maximum cross-correlation of two frames.
type correlationEngine struct {
	transformer *transform.Real
	padded      [frameLength]float64
	ref, test   [lineCount]complex128
	ear         [gammatoneBands]float64 // outer- and middle-ear gain of power
}

func newCorrelationEngine() correlationEngine {
	e := correlationEngine{transformer: transform.New(frameLength)}
	for b := range e.ear {
		e.ear[b] = outerEar(gammatoneCentre(b)).Power()
	}
	return e
}

// maximum returns the maximum normalised cross-correlation within the lags, 0
// where either frame is silent.
func (e *correlationEngine) maximum(ref, test *[correlationFrame]float64) float64 {
	norm := math.Sqrt(sumOfSquares(ref[:]) * sumOfSquares(test[:]))
	if norm == 0 {
		return 0
	}
	e.transform(&e.ref, ref)
	e.transform(&e.test, test)
	for i, c := range e.ref {
		e.test[i] *= cmplx.Conj(c)
	}
	e.transformer.Inverse(e.padded[:], e.test[:])
	best := math.Inf(-1)
	for lag := range correlationLag + 1 {
		best = max(best, e.padded[lag], e.padded[(frameLength-lag)%frameLength])
	}
	return best / norm
}

// transform writes the spectrum of a frame, padded so that no lag wraps around.
func (e *correlationEngine) transform(dst *[lineCount]complex128, frame *[correlationFrame]float64) {
	copy(e.padded[:], frame[:])
	clear(e.padded[correlationFrame:])
	e.transformer.Forward(dst[:], e.padded[:])
}

// Constants of the gammatone bands. Widths are after Glasberg and Moore, Hearing
// Research 47 (1990): 24.7 (4.37 f/kHz + 1) Hz, one to each step of
// 21.4 log10(4.37 f/kHz + 1); the order and the factor 1.019 after Patterson et
// al. (1987), from memory.
const (
	gammatoneBands = 40
	gammatoneFirst = 50.0 // Hz
	gammatoneOrder = 4
	gammatoneWidth = 1.019
)

// rectangular returns the equivalent rectangular bandwidth of the ear at f, both
// in hertz.
func rectangular(f float64) float64 { return 24.7 * (4.37*f/1000 + 1) }

// gammatoneCentre returns the centre of band i in hertz, one equivalent
// rectangular bandwidth above the one before.
func gammatoneCentre(i int) float64 {
	first := 21.4 * math.Log10(4.37*gammatoneFirst/1000+1)
	return (math.Pow(10, (first+float64(i))/21.4) - 1) * 1000 / 4.37
}

// negligible is a state that is set to zero after a block: in silence it would
// shrink to numbers that processors are slow with.
const negligible = 1e-150

// gammatone is one band-pass filter: a cascade of four equal complex resonators
// whose real part has an envelope of the form t³ e^(-2πbt).
type gammatone struct {
	pole  complex128
	gain  float64
	state [gammatoneOrder]complex128
}

// newGammatone returns a filter of unit gain at its centre f.
func newGammatone(f float64) gammatone {
	radius := math.Exp(-2 * math.Pi * gammatoneWidth * rectangular(f) / Rate)
	sin, cos := math.Sincos(2 * math.Pi * f / Rate)
	return gammatone{
		pole: complex(radius*cos, radius*sin),
		gain: 2 * math.Pow(1-radius, gammatoneOrder),
	}
}

// process filters src into dst, which has the same length and may be src.
func (g *gammatone) process(dst, src []float64) {
	s := g.state
	for n, x := range src {
		s[0] = s[0]*g.pole + complex(x*g.gain, 0)
		s[1] = s[1]*g.pole + s[0]
		s[2] = s[2]*g.pole + s[1]
		s[3] = s[3]*g.pole + s[2]
		dst[n] = real(s[3])
	}
	for i, v := range s {
		if cmplx.Abs(v) < negligible {
			s[i] = 0
		}
	}
	g.state = s
}
