package server

import (
	"math"
	"math/cmplx"
	"math/rand/v2"
	"strconv"
	"time"

	"gonum.org/v1/gonum/dsp/fourier"

	"quietcross/dsp/level"
	"quietcross/dsp/weighting"
)

// One level for the whole set. Every clip of every material is played with the same
// gain, so that the materials keep the levels at which the stage was driven. The gain
// brings the loudest material to -23 LUFS (EBU R 128), or as near to it as full scale
// allows. The reference noise has the loudness of the loudest material: what the volume
// is set with is the loudest that comes. The noise is measured, or matched by ear to a
// voice; that fixes the level of a full-scale sine at the listener, at which the
// prediction is made.

const (
	targetLoudness = -23.0 // LUFS
	mostPeak       = 0.95  // of full scale
)

// playback is the level of a set's clips.
type playback struct {
	gain  level.DB // applied to every clip
	noise *sound   // at its level, without the gain
	// weighted is the A-weighted level of the noise re a full-scale sine, dB.
	weighted level.DB
}

// gainOf works out the gain of materials of one set, prepared, at least one.
func gainOf(ladders []*ladder) level.DB {
	peak := 0.0
	for _, l := range ladders {
		peak = max(peak, l.peak)
	}
	return min(level.DB(targetLoudness-loudestOf(ladders)), level.FromAmplitude(mostPeak/peak))
}

// loudestOf is the loudness of the loudest material, LUFS.
func loudestOf(ladders []*ladder) float64 {
	loudest := math.Inf(-1)
	for _, l := range ladders {
		loudest = max(loudest, l.loudness)
	}
	return loudest
}

// newPlayback is the level of materials under a gain. The noise has the rate of the first.
func newPlayback(ladders []*ladder, gain level.DB) *playback {
	return fixedPlayback(gain, loudestOf(ladders)+float64(gain), ladders[0].rate)
}

// fixedPlayback is the level of clips under a gain, with noise of a loudness in LUFS.
func fixedPlayback(gain level.DB, loudness float64, rate int) *playback {
	noise := referenceNoise(rate)
	own := loudnessOf(noise.samples, rate)
	noise.scale(level.DB(loudness - own).Amplitude())
	return &playback{gain: gain, noise: noise, weighted: weightedLevel(noise.samples[0], rate)}
}

// fullScale returns the level of a full-scale sine of the set's files in dB SPL, from
// that of the noise in dB(A).
func (p *playback) fullScale(spl float64) level.DB { return level.DB(spl) - p.weighted + p.gain }

// The noise has the band that common practice sets levels with, hertz.
const noiseLow, noiseHigh = 500.0, 2000.0

// referenceNoise returns pink noise between 500 Hz and 2 kHz of RMS 1, which repeats
// without a seam. It is the same for everybody.
func referenceNoise(rate int) *sound {
	frames := 1 << 16
	for frames < 2*rate {
		frames *= 2
	}
	rng := rand.New(rand.NewPCG(1, 0))
	bins := make([]complex128, frames/2+1)
	power := 0.0
	for k := range bins {
		if f := float64(k) * float64(rate) / float64(frames); f >= noiseLow && f <= noiseHigh {
			bins[k] = cmplx.Rect(1/math.Sqrt(f), 2*math.Pi*rng.Float64())
			power += 2 / f // a line stands for two of the transform
		}
	}
	x := fourier.NewFFT(frames).Sequence(nil, bins)
	s := newSound([][]float64{x})
	s.scale(1 / math.Sqrt(power))
	return s
}

// weightedLevel is the A-weighted level of a signal that repeats, re a full-scale sine.
func weightedLevel(x []float32, rate int) level.DB {
	wide := make([]float64, len(x))
	for i, v := range x {
		wide[i] = float64(v)
	}
	n := float64(len(x))
	power := 0.0
	for k, c := range fourier.NewFFT(len(x)).Coefficients(nil, wide) {
		if k == 0 {
			continue
		}
		a := weighting.ResponseA(float64(k)*float64(rate)/n) * cmplx.Abs(c) / n
		power += 2 * a * a
	}
	return level.FromPower(2 * power)
}

// leastLoudness stands for silence, LUFS.
const leastLoudness = -200.0

// loudnessOf measures a clip as it is heard: one channel comes from both sides. It is
// measured at an RMS of 1/4 and told at its own, so that a quiet clip passes the gate of
// BS.1770, and repeats as it does for the listener, so that a short one does. LUFS.
func loudnessOf(samples [][]float32, rate int) float64 {
	own := rootMean(&sound{samples: samples})
	if own == 0 {
		return leastLoudness
	}
	meter := level.NewLoudness(float64(rate), 2)
	block := make([][]float64, 2)
	for c := range block {
		channel := samples[min(c, len(samples)-1)]
		block[c] = make([]float64, len(channel))
		for i, v := range channel {
			block[c][i] = float64(v) / (4 * own)
		}
	}
	for n := 0; n < rate; n += len(block[0]) {
		meter.Add(block)
	}
	got, ok := meter.Integrated()
	if !ok {
		return leastLoudness
	}
	return float64(got + level.FromAmplitude(4*own))
}

// rootMean is the RMS over all channels.
func rootMean(s *sound) float64 {
	sum, n := 0.0, 0
	for _, channel := range s.samples {
		for _, v := range channel {
			sum += float64(v) * float64(v)
		}
		n += len(channel)
	}
	return math.Sqrt(sum / float64(n))
}

// ditherLevel is the level of a clip's dither re the reference: triangular dither and
// rounding together have the variance of a quarter of a step squared (Lipshitz,
// Wannamaker and Vanderkooy, JAES 40:355, 1992).
func ditherLevel(reference *sound, gain level.DB) level.DB {
	return level.FromAmplitude(0.5/fullScale) - level.FromAmplitude(rootMean(reference)) - gain
}

// A voice is a level that everybody carries about: speech at one metre. ISO 9921, from
// memory.
type voice struct {
	Name   string
	Effort string
	SPL    float64 // dB(A) at 1 m
}

var voices = []voice{
	{"relaxed", "a relaxed voice", 54},
	{"normal", "a normal voice", 60},
	{"raised", "a raised voice", 66},
	{"loud", "a loud voice", 72},
}

const (
	mostSPL      = 85.0 // dB(A) of the noise; louder is refused
	leastSPL     = 30.0
	splTolerance = 2.0             // dB round the plan's level, and round a session's own when it goes on
	noiseLeast   = 5 * time.Second // for which the noise must be played
)

// splOf reads how loud the listener found the noise: measured, or matched to a voice.
// how is "meter", "voice:" with a voice's name, or "" for a level nobody knows.
func splOf(how, typed string) (spl *float64, matched, fault string) {
	if how == "" {
		return nil, "", ""
	}
	if how == "meter" {
		v, err := strconv.ParseFloat(decimalPoint(typed), 64)
		if err != nil || !(v >= leastSPL && v <= 130) {
			return nil, "", "Type the measured level in dB(A), a number from 30 to 85."
		}
		if v > mostSPL {
			return nil, "", "That is louder than 85 dB(A), which this panel does not take: turn the volume down and measure again."
		}
		return &v, "meter", ""
	}
	for _, c := range voices {
		if how == "voice:"+c.Name {
			return &c.SPL, "voice", ""
		}
	}
	return nil, "", "Say how the level was set: by a meter, or by comparison with a voice."
}
