package hearing

import (
	"math"
	"sync"

	"quietcross/dsp/level"
)

// calibrationTone is the frequency, in hertz, of the full-scale sine that fixes
// the playback level, BS.1387, 2.1.3.
const calibrationTone = 1019.5

// analyser turns a frame of samples into the magnitudes of its spectral lines
// in units of 20 µPa, BS.1387, 2.1.3.
type analyser struct {
	transformer *transformer
	window      *[frameLength]float64
	scaled      [frameLength]float64
	scale       float64
}

// newAnalyser fixes the scale so that the largest line of a full-scale sine at
// 1019.5 Hz reads playback.
func newAnalyser(playback level.DB) *analyser {
	a := &analyser{transformer: newTransformer(), window: hann()}
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
	a := &analyser{transformer: newTransformer(), window: hann(), scale: 1}
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
	a.transformer.magnitudes(dst, &a.scaled, a.scale)
}
