package signal

import (
	"math"

	"quietcross/dsp/distortion"
	"quietcross/dsp/level"
)

// The dynamic intermodulation signal (IEC 60268-3, 14.12; Leinonen, Otala and
// Curl, J. Audio Eng. Soc. 25:170, 1977; the corner and ratio from memory).
const (
	squareHz     = 3150
	squareCorner = 30000 // hertz, one pole
	sineHz       = 15000
	squareRatio  = 4 // peak to peak, square to sine
)

func dynamicIntermodulation() Material {
	return Material{
		Name: "dynamic-3150-15k", Title: "Dynamic intermodulation, 30 kHz corner",
		Shows: "steep edges of a 3.15 kHz square wave carrying a 15 kHz tone: nine products below 15 kHz; " +
			"the square is a sum of its odd harmonics, so it is rounded where the rate cannot carry them",
		Source: "IEC 60268-3:2018, 14.12: dynamic intermodulation distortion",
		Kind:   distortion.SquareAndTone, Seconds: 5, Channels: 1, Peak: -1,
		Tones: squareAndTone(-1), Required: sineHz, generate: sumTones,
	}
}

// squareAndTone returns the sine last and before it the odd harmonics of the
// square, 4/(πn) of its amplitude, each through the one-pole corner. The two
// are set so that peak bounds them at every rate: a square cut down to its
// fundamental is the highest, 4/π of its amplitude.
func squareAndTone(peak level.DB) []Tone {
	square := peak - level.FromAmplitude(4/math.Pi+1.0/squareRatio)
	var tones []Tone
	for n := 1; n*squareHz < MaxRate/2; n += 2 {
		f := float64(n * squareHz)
		u := f / squareCorner
		tones = append(tones, Tone{
			Frequency: f,
			Level:     square + level.FromAmplitude(4/(math.Pi*float64(n))/math.Hypot(1, u)),
			Phase:     -math.Atan(u),
		})
	}
	return append(tones, Tone{Frequency: sineHz, Level: square - level.FromAmplitude(squareRatio)})
}
