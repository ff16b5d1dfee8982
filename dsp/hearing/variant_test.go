package hearing

import (
	"math"
	"math/cmplx"
	"os"
	"slices"
	"testing"
)

// The alternative that was weighed: a modulation filterbank with an optimal detector,
// after Dau, Kollmeier and Kohlrausch (JASA 102, 1997), reduced to its idea. It
// stands behind the same windows, filters and internal noise. The level of each band
// (logarithmic, as the paper's adaptation stages are for steady sounds) passes a
// low-pass filter of 2.5 Hz and resonators at 5, 10, 16.7, 27.8, 46.3 and 77.2 Hz, of
// quality 2 from 10 Hz up. The detector knows the difference to expect: d' squared is
// the sum of the squared differences of all outputs over bands and time, against a
// constant internal noise. Its one constant is set by the difference of intensity at 1
// kHz and 60 dB over threshold.

// modulationCentres holds the resonators, Hz; the first is the low-pass filter.
var modulationCentres = [...]float64{0, 5, 10, 16.7, 27.8, 46.3, 77.2}

// modulationBank is the state of the filters of one band.
type modulationBank struct {
	pole  [len(modulationCentres)]complex128
	state [len(modulationCentres)]complex128
}

func newModulationBank(dt float64) *modulationBank {
	m := new(modulationBank)
	for i, f := range modulationCentres {
		width := max(5, f/2)
		m.pole[i] = cmplx.Exp(complex(-math.Pi*width*dt, 2*math.Pi*f*dt))
	}
	return m
}

// energy takes the next level and returns the squares of the outputs, summed.
func (m *modulationBank) energy(x float64) float64 {
	total := 0.0
	for i, p := range m.pole {
		m.state[i] = p*m.state[i] + complex((1-cmplx.Abs(p))*x, 0)
		y := cmplx.Abs(m.state[i])
		if i > 0 && i < 3 {
			y = real(m.state[i]) * math.Sqrt2 // phase is kept under 10 Hz
		}
		total += y * y
	}
	return total
}

// filterbank returns the alternative with an internal noise of sigma.
func filterbank(sigma float64) predictor {
	return func(rate float64, ref []float64) func(test []float64) float64 {
		r := referenceOf(standard, Config{Rate: rate, Channels: 1, PlaybackSPL: testSPL}, [][]float64{ref})
		return func(test []float64) float64 { return r.filterbank(test) / sigma }
	}
}

// filterbank returns d' for an internal noise of 1 dB in one ERB and second.
func (r *Reference) filterbank(test []float64) float64 {
	t := r.tables
	frames, _ := t.layouts()
	var banks [bandCount]*modulationBank
	for b := range banks {
		banks[b] = newModulationBank(t.frameTime(resolutionOf(b)))
	}
	f, a, heard := newFeeder(t, 1), newAnalyser(t, testSPL), new(cells)
	var excitation [bandCount]float64
	total, n := 0.0, 0
	steps := append(slices.Clone(r.whole.steps), r.end.steps...)
	step := func() {
		a.analyse(heard, f.buffers[0])
		g := steps[n][0]
		for k, l := range frames {
			excite(t, l, &excitation, &g.slopes[k], &heard[k])
			for b := l.from; b < l.to; b++ {
				quiet := t.noise[b]
				difference := db((excitation[b] + quiet) / (g.excitation[l.at+b-l.from] + quiet))
				total += bandStep * t.frameTime(l.resolution) * banks[b].energy(difference)
			}
		}
		n++
	}
	f.each([][]float64{test}, step)
	f.each(f.silence(), step)
	return math.Sqrt(total)
}

// TestVariant prints how both do on every published set.
//
//	QUIETCROSS_LONG=1 go test ./dsp/hearing -run Variant -v
func TestVariant(t *testing.T) {
	if os.Getenv("QUIETCROSS_LONG") == "" {
		t.Skip("QUIETCROSS_LONG=1 runs it")
	}
	env := gate(testRate, 0.7, 0.1, 0.6, 0.02)
	x := sine(testRate, env, 1000, 60+float64(QuietThreshold(1000)), 0.4)
	gain := math.Pow(10, db(1+0.463*math.Pow(10, -0.0072*60))/20) - 1
	sigma := filterbank(1)(testRate, x)(sum(x, x, gain))
	t.Logf("internal noise %.3f dB", sigma)
	for _, s := range published() {
		own, other := s.residuals(t, model(standard)), s.residuals(t, filterbank(sigma))
		t.Logf("| %s | %.1f | %.1f | %+.1f |", s.name, rms(own), rms(other), mean(other))
	}
}

func mean(x []float64) float64 {
	total := 0.0
	for _, v := range x {
		total += v
	}
	return total / float64(len(x))
}
