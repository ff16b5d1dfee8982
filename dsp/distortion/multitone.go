package distortion

import (
	"math"
	"math/cmplx"
	"slices"

	"quietcross/dsp/level"
)

// Tones is what a record of many tones holds.
type Tones struct {
	Tones []Product // ascending; N1 and N2 are zero
	// Rest is everything between the tones, 20 Hz to 20 kHz, re the tones, as RMS.
	Rest Figure
	// Noise is the part of it that is spread evenly: from the median density of
	// the residual in each third of an octave. Distortion is what stands above.
	Noise      Figure
	Distortion Figure
	Residual   []float64
	Warnings   []string
}

// MultitoneProducts measures steady tones near the given ascending frequencies in
// hertz (see [Detect]) and what lies between them. Rate is in hertz.
func MultitoneProducts(x []float64, rate float64, hertz []float64) (*Tones, error) {
	orders := make([][]int, len(hertz))
	for i := range orders {
		orders[i] = make([]int, len(hertz))
		orders[i][i] = 1
	}
	s, err := solveTones(x, rate, hertz, orders)
	if err != nil {
		return nil, err
	}
	t := &Tones{Residual: s.residual}
	noise := newNoise(s.residual, rate)
	power := 0.0
	for k, omega := range s.omegas() {
		f := omega * rate / (2 * math.Pi)
		t.Tones = append(t.Tones, Product{Frequency: f, Amplitude: cmplx.Abs(s.c[k]), Sigma: noise.sigma(f, s.record)})
		power += square(s.c[k]) / 2
	}
	t.split(noise, power)
	if c := Clipping(x); c.Samples > 0 {
		t.Warnings = append(t.Warnings, c.String())
	}
	return t, nil
}

// split parts the residual into what is spread evenly and what stands above it.
func (t *Tones) split(n *noise, reference float64) {
	s := n.spectrum
	rest := s.MeanSquare(BandLow, BandHigh)
	even := 0.0
	high := bandHigh(n.rate)
	for low := float64(BandLow); low < high; low *= math.Cbrt(2) {
		top := min(low*math.Cbrt(2), high)
		even += medianDensity(s.Power, low/s.LineWidth(), top/s.LineWidth(), s.Segments) * s.MeanSquare(low, top)
	}
	even = min(even, rest)
	ratio := func(power float64) Figure { return Figure{Value: math.Sqrt(power / reference)} }
	t.Rest, t.Noise, t.Distortion = ratio(rest), ratio(even), ratio(rest-even)
	// The split cannot see distortion below the scatter of the noise power.
	seconds := float64(len(t.Residual)) / n.rate
	t.Distortion.Floor = math.Sqrt(2 * even / math.Sqrt((high-BandLow)*seconds) / reference)
	t.Distortion.Sigma = t.Distortion.Floor
}

// medianDensity returns the median of the lines from low to high over their mean:
// near 1 for noise alone, small where a few lines stand out. The median of an
// average over segments lies below its mean; that is undone.
func medianDensity(power []float64, low, high float64, segments int) float64 {
	from := int(math.Round(low))
	to := max(from+1, min(int(math.Round(high)), len(power)))
	lines := slices.Clone(power[from:to])
	mean := level.Mean(lines)
	if mean == 0 {
		return 0
	}
	slices.Sort(lines)
	// Median over mean of a gamma variate of shape k is near (1 - 1/(9k))³.
	k := 1 - 1/(9*max(1, float64(segments)/2))
	return min(1, lines[len(lines)/2]/mean/(k*k*k))
}
