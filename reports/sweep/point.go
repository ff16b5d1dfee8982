package sweep

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"

	"quietcross/dsp/distortion"
	"quietcross/dsp/level"
	"quietcross/dsp/shape"
)

// Point is a stage at one bias and one level.
type Point struct {
	Level  level.DB `json:"level_db"`
	Input  float64  `json:"in_v"`    // peak
	Output float64  `json:"out_v"`   // peak of the fundamental
	Power  float64  `json:"power_w"` // of the fundamental into the load
	Offset float64  `json:"dc_v"`    // mean of the output

	// THD is of all orders, re the fundamental (IEC 60268-3, 14.12).
	THD float64 `json:"thd"`
	// Harmonics are the orders 2 to 20 re the fundamental, signed: at the
	// positive crest of the input.
	Harmonics []float64 `json:"harmonics"`
	// OrderWeighted is of the orders to 20 weighted by n²/4 (Shorter 1950).
	OrderWeighted float64 `json:"order_weighted"`
	// InBand is, for each frequency, THD re the total with the harmonics above
	// 20 kHz left out: THD+N as AES17 measures it, without noise.
	InBand []float64 `json:"thd_n"`

	// Intermodulation (IEC 60268-3, 14.12) of two tones whose peaks add up to
	// Input: 4:1 for modulation, 1:1 for difference frequency.
	Modulation2 float64 `json:"modulation_2"`
	Modulation3 float64 `json:"modulation_3"`
	Difference2 float64 `json:"difference_2"`
	Difference3 float64 `json:"difference_3"`

	// Incremental gains, V/V: at rest, at the two peaks, the minimum between them.
	GainAtZero  float64 `json:"gain_at_zero"`
	GainAtHigh  float64 `json:"gain_at_high"`
	GainAtLow   float64 `json:"gain_at_low"`
	MinimumGain float64 `json:"minimum_gain"`

	// Gm is the metric of Geddes and Lee of the law over this swing, scaled to
	// unit input and unit gain; GmRefusal says why there is none. It diverges for
	// an ideal dead band.
	Gm        *float64 `json:"gm,omitempty"`
	GmRefusal string   `json:"gm_refusal,omitempty"`

	Clipped bool `json:"clipped"` // the peak lies beyond the clipping onset
}

// Sizes of the numerical integrals, and the band limit in hertz.
const (
	cycle    = 1 << 13 // samples of a cycle: orders beyond half of it fold back
	grid     = 256     // angles of each tone over half its cycle
	gmPoints = 1<<14 + 1
	bandHigh = distortion.BandHigh
)

// sampler evaluates one law.
type sampler struct {
	law    *shape.Law
	plan   *fourier.FFT
	wave   []float64
	lines  []complex128
	angles []float64 // cosines of the two-tone grid
}

func newSampler(law *shape.Law) *sampler {
	s := &sampler{law: law, plan: fourier.NewFFT(cycle), wave: make([]float64, cycle), lines: make([]complex128, cycle/2+1)}
	for i := range grid {
		s.angles = append(s.angles, math.Cos(math.Pi*(float64(i)+0.5)/grid))
	}
	return s
}

// point computes everything at an input of peak volts.
func (s *sampler) point(peak float64, frequencies []float64) Point {
	p := Point{Input: peak}
	s.harmonics(&p, frequencies)
	s.gains(&p)
	a := s.products(0.8*peak, 0.2*peak)
	p.Modulation2 = math.Abs(a[1][1]) / math.Abs(a[0][1])
	p.Modulation3 = math.Abs(a[2][1]) / math.Abs(a[0][1])
	b := s.products(0.5*peak, 0.5*peak)
	sum := math.Abs(b[0][1]) + math.Abs(b[1][0])
	p.Difference2 = math.Abs(b[1][1]) / 2 / sum
	p.Difference3 = (math.Abs(b[1][2]) + math.Abs(b[2][1])) / 2 / sum
	if gm, err := s.gm(peak); err != nil {
		p.GmRefusal = err.Error()
	} else {
		p.Gm = &gm
	}
	return p
}

// harmonics fills in what a single tone gives. The input is a cosine, so that the
// law's output is a cosine series.
func (s *sampler) harmonics(p *Point, frequencies []float64) {
	for i := range cycle/2 + 1 {
		s.wave[i] = s.law.At(p.Input * math.Cos(2*math.Pi*float64(i)/cycle))
		if i > 0 {
			s.wave[cycle-i] = s.wave[i]
		}
	}
	s.plan.Coefficients(s.lines, s.wave)
	order := func(n int) float64 { return 2 * real(s.lines[n]) / cycle }
	p.Offset = order(0) / 2
	fundamental := order(1)
	p.Output = math.Abs(fundamental)
	inBand := make([]float64, len(frequencies))
	all, weighted := 0.0, 0.0
	for n := 2; n < cycle/2; n++ {
		h := order(n) / fundamental
		all += h * h
		if n <= distortion.MaxOrder {
			p.Harmonics = append(p.Harmonics, h)
			weighted += math.Pow(h*distortion.OrderWeight(n), 2)
		}
		for k, f := range frequencies {
			if float64(n)*f <= bandHigh {
				inBand[k] += h * h
			}
		}
	}
	for k, power := range inBand {
		inBand[k] = math.Sqrt(power / (1 + power))
	}
	p.THD, p.OrderWeighted, p.InBand = math.Sqrt(all), math.Sqrt(weighted), inBand
}

// gains fills in the incremental gains.
func (s *sampler) gains(p *Point) {
	p.GainAtZero, p.GainAtHigh, p.GainAtLow = s.law.Slope(0), s.law.Slope(p.Input), s.law.Slope(-p.Input)
	p.MinimumGain = p.GainAtZero
	const steps = 512
	for i := range steps + 1 {
		// Closer together about 0, where the crossover is.
		u := -1 + 2*float64(i)/steps
		if g := s.law.Slope(p.Input * u * u * u); math.Abs(g) < math.Abs(p.MinimumGain) {
			p.MinimumGain = g
		}
	}
}

// products returns the coefficients c[m][n] of cos(mθ1)cos(nθ2), m and n to 2, of
// the law under a·cos θ1 + b·cos θ2. Half of c[m][n], m and n above 0, lies at
// each of m·f1 + n·f2 and |m·f1 - n·f2|.
func (s *sampler) products(a, b float64) (c [3][3]float64) {
	for _, u := range s.angles {
		var row [3]float64
		for _, v := range s.angles {
			y := s.law.At(a*u + b*v)
			row[0] += y
			row[1] += y * v
			row[2] += y * (2*v*v - 1)
		}
		for n, y := range row {
			c[0][n] += y
			c[1][n] += y * u
			c[2][n] += y * (2*u*u - 1)
		}
	}
	for m := range c {
		for n := range c[m] {
			c[m][n] /= grid * grid
			if m > 0 {
				c[m][n] *= 2
			}
			if n > 0 {
				c[m][n] *= 2
			}
		}
	}
	return c
}

// gm returns the smooth-law metric over a swing, in units of that swing and of
// the law's mean gain over it.
func (s *sampler) gm(peak float64) (float64, error) {
	gain := (s.law.At(peak) - s.law.At(-peak)) / (2 * peak)
	y := make([]float64, gmPoints)
	for i := range y {
		x := -1 + 2*float64(i)/(gmPoints-1)
		y[i] = s.law.At(peak*x) / (gain * peak)
	}
	return distortion.GmSampled(y)
}
