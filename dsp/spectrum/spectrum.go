package spectrum

import (
	"fmt"
	"math"
	"math/bits"

	"github.com/mjibson/go-dsp/fft"

	"quietcross/dsp/level"
)

// Spectrum is a calibrated power spectrum from 0 Hz to half the rate.
type Spectrum struct {
	Rate   float64 // hertz
	Size   int     // samples of one transform
	Window Window
	// Power holds Size/2+1 lines. Each is the squared peak amplitude of the sine
	// that it would be the whole of: 1 is a full-scale sine. Line 0 is the square
	// of the DC value, the last the square of the amplitude at half the rate.
	Power []float64
	// Segments counts the transforms averaged, overlapping ones counted fully.
	Segments int
}

// Of returns the spectrum of all of x. The length must be a power of two of at
// least 16, for the transform of go-dsp is exact there (about -315 dB) and poor
// elsewhere; it panics otherwise. Rate is in hertz.
func Of(x []float64, rate float64, w Window) *Spectrum {
	checkSize(len(x))
	windowed := w.Coefficients(len(x))
	for i, v := range x {
		windowed[i] *= v
	}
	lines := fft.FFTReal(windowed)
	s := &Spectrum{Rate: rate, Size: len(x), Window: w, Segments: 1, Power: make([]float64, len(x)/2+1)}
	for i := range s.Power {
		s.Power[i] = square(lines[i])
	}
	s.calibrate(1)
	return s
}

func checkSize(n int) {
	if n < 16 || bits.OnesCount(uint(n)) != 1 {
		panic(fmt.Sprintf("spectrum: %d samples, legal are powers of two from 16", n))
	}
}

func square(c complex128) float64 { return real(c)*real(c) + imag(c)*imag(c) }

// calibrate turns summed squares of transforms into line powers.
func (s *Spectrum) calibrate(segments int) {
	gain := float64(s.Size) * s.Window.CoherentGain()
	edge := 1 / (gain * gain * float64(segments))
	for i := range s.Power {
		s.Power[i] *= 4 * edge
	}
	s.Power[0] /= 4
	s.Power[s.Size/2] /= 4
}

// LineWidth returns the distance of two lines in hertz.
func (s *Spectrum) LineWidth() float64 { return s.Rate / float64(s.Size) }

// Frequency returns the frequency of line i in hertz.
func (s *Spectrum) Frequency(i int) float64 { return float64(i) * s.LineWidth() }

// Level returns line i in dB re a full-scale sine.
func (s *Spectrum) Level(i int) level.DB { return level.FromPower(s.Power[i]) }

// meanSquare returns what line i adds to the mean square of the signal.
func (s *Spectrum) meanSquare(i int) float64 {
	p := s.Power[i] / s.Window.NoiseBandwidth()
	if i == 0 || i == s.Size/2 {
		return p
	}
	return p / 2
}

// MeanSquare returns the mean square of the signal between two frequencies in
// hertz, a line on an edge counted by its share inside. Frequencies outside 0 to
// half the rate are cut there; an empty band has 0. A line's energy is spread
// over the window's main lobe, so keep [Window.HalfWidth] lines from an edge.
func (s *Spectrum) MeanSquare(low, high float64) float64 {
	return s.WeightedMeanSquare(low, high, func(float64) float64 { return 1 })
}

// WeightedMeanSquare is [Spectrum.MeanSquare] of the signal behind a filter with
// the amplitude response gain(hertz).
func (s *Spectrum) WeightedMeanSquare(low, high float64, gain func(hertz float64) float64) float64 {
	step := s.LineWidth()
	first := max(0, int(math.Floor(low/step+0.5)))
	last := min(len(s.Power)-1, int(math.Floor(high/step+0.5)))
	sum := 0.0
	for i := first; i <= last; i++ {
		// Line i stands for i-½ to i+½, but the outermost two for half of that.
		from, to := max(float64(i)-0.5, 0), min(float64(i)+0.5, float64(s.Size/2))
		inside := min(to, high/step) - max(from, low/step)
		if inside > 0 {
			g := gain(s.Frequency(i))
			sum += g * g * s.meanSquare(i) * inside / (to - from)
		}
	}
	return sum
}

// Density returns the one-sided power density at line i, mean square per hertz.
func (s *Spectrum) Density(i int) float64 {
	width := s.LineWidth()
	if i == 0 || i == s.Size/2 {
		width /= 2
	}
	return s.meanSquare(i) / width
}

// Strongest returns the strongest line from low to high hertz and its frequency
// read between the lines, by the parabola through the logarithms of three lines.
// It returns false when the band holds no line or only silence.
func (s *Spectrum) Strongest(low, high float64) (line int, hertz float64, ok bool) {
	first := max(1, int(math.Ceil(low/s.LineWidth())))
	last := min(len(s.Power)-2, int(high/s.LineWidth()))
	for i := first; i <= last; i++ {
		if s.Power[i] > s.Power[line] || !ok {
			line, ok = i, true
		}
	}
	if !ok || s.Power[line] == 0 {
		return 0, 0, false
	}
	l, m, r := math.Log(s.Power[line-1]), math.Log(s.Power[line]), math.Log(s.Power[line+1])
	offset := (l - r) / (2 * (l - 2*m + r))
	if !(math.Abs(offset) <= 1) {
		offset = 0
	}
	return line, (float64(line) + offset) * s.LineWidth(), true
}
