package bs1387

import (
	"math"
	"testing"

	"quietcross/dsp/level"
)

func sine(n int, amplitude, f float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = amplitude * math.Sin(2*math.Pi*f*float64(i)/Rate)
	}
	return x
}

func largest(x []float64) float64 {
	most := 0.0
	for _, v := range x {
		most = max(most, v)
	}
	return most
}

// BS.1387, 2.1.3: the largest line of a full-scale 1019.5 Hz sine reads the
// playback level, and 20 dB less reads 20 dB less.
func TestCalibrationTone(t *testing.T) {
	for _, spl := range []level.DB{92, 75, 105} {
		a := newAnalyser(spl)
		for _, below := range []level.DB{0, -20, -80} {
			top := 0.0
			var lines [lineCount]float64
			x := sine(11*hop, below.Amplitude(), 1019.5)
			for n := range 10 {
				a.lines(&lines, x[n*hop:])
				top = max(top, largest(lines[:]))
			}
			near(t, "tone at 1019.5 Hz", float64(level.FromAmplitude(top)), float64(spl+below), 1e-9)
		}
	}
}

// A tone half-way between lines loses sinc(1/2)/(1 - 1/4) = 8/(3π) in a Hann
// window, one on a line nothing: the closed form of the window's transform. The
// sum of the window is √(8/3)(N-1)/2. 1019.5 Hz is 43.4987 lines.
func TestCalibrationClosedForm(t *testing.T) {
	off := calibrationTone/lineSpacing - 43
	loss := math.Sin(math.Pi*off) / (math.Pi * off) / (1 - off*off)
	alternative := 1 - off
	loss = max(loss, math.Sin(math.Pi*alternative)/(math.Pi*alternative)/(1-alternative*alternative))
	want := math.Sqrt(8.0/3) * (frameLength - 1) / 4 * loss
	near(t, "largest line", calibration()/want, 1, 2e-3)
	// And, from memory, the same in Kabal, An Examination and Interpretation of
	// ITU-R BS.1387 (McGill University, 2003): 0.84971762641205.
	near(t, "against Kabal's factor", calibration()/(math.Sqrt(8.0/3)*(frameLength-1)/4), 0.84971762641205, 2e-5)
}

// A Hann window times √(8/3) keeps the power of a stationary signal: the mean of
// its square is 1 (3/8 times 8/3).
func TestWindowKeepsPower(t *testing.T) {
	near(t, "mean square of the window", sumOfSquares(hann()[:])/(frameLength-1), 1, 1e-12)
}
