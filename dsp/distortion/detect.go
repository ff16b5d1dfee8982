package distortion

import (
	"math"
	"slices"

	"quietcross/dsp/level"
	"quietcross/dsp/spectrum"
)

// Signal is what a record was found to be.
type Signal struct {
	Kind Kind
	// Tones are the frequencies in hertz found for a tone or a ladder (one), two
	// tones, the square and the sine (lower first), or a multitone (ascending).
	Tones []float64
}

// silent is the mean square below which a record is silence: -140 dB re full
// scale, below the dither of any integer format but 24 bits'.
const silent = 1e-14

// Detect finds out what x is. Rate is in hertz. Records that are constant, or
// whose AC part is below -140 dB, are silence. Short, non-finite or empty records
// return an error.
func Detect(x []float64, rate float64) (Signal, error) {
	switch err := checkSamples(x, rate); {
	case err == ErrSilence:
		return Signal{Kind: Silence}, nil
	case err != nil:
		return Signal{}, err
	}
	mean := level.Mean(x)
	if rms := level.RMS(x); rms*rms-mean*mean < silent {
		return Signal{Kind: Silence}, nil
	}
	peaks, total := findPeaks(coarse(x, rate, fitWindow))
	if s, ok := classify(peaks, total); ok && steady(x, rate, s.Tones) {
		return s, nil
	}
	if hertz, ok := ladder(x, rate); ok {
		return Signal{Kind: Ladder, Tones: []float64{hertz}}, nil
	}
	return Signal{Kind: Programme}, nil
}

// Refine returns the signal's tones in hertz, fitted together to the record x in
// which it was found, at rate hertz: to the noise, where Detect is within a
// hundredth of a line. Tones that cannot be fitted are returned as found.
func (s Signal) Refine(x []float64, rate float64) []float64 {
	if len(s.Tones) == 0 || s.Kind == Ladder {
		return s.Tones
	}
	alone := make([][]int, len(s.Tones))
	for i := range alone {
		alone[i] = make([]int, len(s.Tones))
		alone[i][i] = 1
	}
	fitted, err := solveTones(x, rate, s.Tones, alone)
	if err != nil {
		return s.Tones
	}
	refined := make([]float64, len(s.Tones))
	for i, omega := range fitted.tones {
		refined[i] = omega * rate / (2 * math.Pi)
	}
	return refined
}

// peak is one line of a spectrum with the power of its main lobe.
type peak struct{ hertz, power float64 }

// findPeaks returns the strongest lines of a spectrum, strongest first, and the
// power of everything, DC apart.
func findPeaks(s *spectrum.Spectrum) (peaks []peak, total float64) {
	const most = 100
	reach := fitWindow.HalfWidth()
	left := slices.Clone(s.Power)
	clear(left[:min(reach, len(left))])
	for _, p := range left {
		total += p
	}
	for range most {
		at := 0
		for i, p := range left {
			if p > left[at] {
				at = i
			}
		}
		if left[at] < total*1e-9 {
			break
		}
		lobe := left[max(0, at-reach):min(len(left), at+reach+1)]
		power := 0.0
		for i, p := range lobe {
			power += p
			lobe[i] = 0
		}
		if _, hertz, ok := s.Strongest(s.Frequency(at), s.Frequency(at)); ok {
			peaks = append(peaks, peak{hertz, power})
		}
	}
	return peaks, total
}

// steady reports whether each tone is as strong in the first third of x as in the
// last, within 1 dB: music and a ladder of levels are not.
func steady(x []float64, rate float64, tones []float64) bool {
	third := len(x) / 3
	if third < minSamples {
		return true
	}
	first, last := coarse(x[:third], rate, fitWindow), coarse(x[len(x)-third:], rate, fitWindow)
	for _, hertz := range tones {
		reach := 4 * first.LineWidth()
		a, b := first.MeanSquare(hertz-reach, hertz+reach), last.MeanSquare(hertz-reach, hertz+reach)
		if !(math.Abs(float64(level.FromPower(a/b))) < 1) {
			return false
		}
	}
	return true
}
