package server

import (
	"math"
	"math/cmplx"
	"math/rand/v2"

	"gonum.org/v1/gonum/dsp/fourier"
)

const (
	noiseLow, noiseHigh = 500.0, 2000.0 // hertz; the band is common practice for setting levels
	noiseMost           = 0.2           // maximum RMS: leaves 14 dB for the peaks of noise
)

// referenceNoise returns pink noise between 500 Hz and 2 kHz with the RMS of the
// material, so that a level set with it is the level of the music. It repeats
// without a seam. The noise is the same for everybody.
func referenceNoise(rate int, material *sound) *sound {
	frames := 1 << 16
	for frames < 2*rate {
		frames *= 2
	}
	rng := rand.New(rand.NewPCG(1, 0))
	bins := make([]complex128, frames/2+1)
	for k := range bins {
		if f := float64(k) * float64(rate) / float64(frames); f >= noiseLow && f <= noiseHigh {
			bins[k] = cmplx.Rect(1/math.Sqrt(f), 2*math.Pi*rng.Float64())
		}
	}
	x := fourier.NewFFT(frames).Sequence(nil, bins)
	own := rootMean(newSound([][]float64{x}, 1))
	return newSound([][]float64{x}, min(rootMean(material), noiseMost)/own)
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
