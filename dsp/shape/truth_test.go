package shape_test

import (
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"

	"quietcross/dsp/resample"
	"quietcross/dsp/shape"
)

// harmonics returns the coefficients of order 0 to count-1 of f(a·cos θ), which is
// even in θ, by the trapezium rule over the circle. The rule converges
// geometrically for a smooth periodic function (Trefethen and Weideman, SIAM
// Review 56, 2014); a pair's corners of kT/q at 25 V need about 4000 points.
func harmonics(f func(float64) float64, a float64, count int) []float64 {
	const points = 1 << 14
	c := make([]float64, count)
	for i := range points/2 + 1 {
		v := 2.0 / points * 2 * f(a*math.Cos(2*math.Pi*float64(i)/points))
		if i == 0 || i == points/2 {
			v /= 2
		}
		for k := range c {
			c[k] += v * math.Cos(2*math.Pi*float64(i*k%points)/points)
		}
	}
	c[0] /= 2
	return c
}

// tone fills n samples with a·cos(2π·cycles·(i-delay)/n).
func tone(a float64, cycles, n int, delay float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = a * math.Cos(2*math.Pi*float64(cycles)*(float64(i)-delay)/float64(n))
	}
	return x
}

// trial is a tone of a whole odd number of cycles in frames samples at 48 kHz.
type trial struct {
	cycles int
	a      float64 // volts peak
}

const (
	frames   = 1 << 13
	fullBand = 20000 * frames / 48000 // bins up to 20 kHz
	drive    = 25.0                   // volts peak at full scale
)

// near returns the trial closest to hertz on an odd bin.
func near(hertz, a float64) trial { return trial{int(hertz*frames/48000) | 1, a} }

// spectrum sends the tone through a route of one law: see periodSpectrum.
func (x trial) spectrum(l *shape.Law, oversample int) []complex128 {
	return periodSpectrum(l, tone(x.a, x.cycles, frames, 0), oversample)
}

// periodSpectrum sends x, repeated for ever, through a route of one law and
// returns the amplitudes of the steady output, the route's delay taken out.
func periodSpectrum(l *shape.Law, x []float64, oversample int) []complex128 {
	r := shape.NewRoute([]*shape.Law{l}, oversample)
	y := make([]float64, 2*frames)
	r.Process([][]float64{y}, slices.Concat(x, x))
	c := fourier.NewFFT(frames).Coefficients(nil, y[frames:])
	for k := range c {
		c[k] *= cmplx.Rect(2./frames, 2*math.Pi*float64(k*r.Latency())/frames)
	}
	return c
}

// figures returns the error and the alias: the amplitude of the difference to the exact output up to 20 kHz,
// harmonics and all other lines together, and the maximum line that is no
// harmonic. Both relate to the tone.
func (x trial) figures(l *shape.Law, exact []float64, oversample int) (err, alias float64) {
	c := x.spectrum(l, oversample)
	for k := 1; k <= fullBand; k++ {
		want := 0.0
		if k%x.cycles == 0 {
			want = exact[k/x.cycles]
		} else {
			alias = max(alias, cmplx.Abs(c[k]))
		}
		err = math.Hypot(err, cmplx.Abs(c[k]-complex(want, 0)))
	}
	return err / x.a, alias / cmplx.Abs(c[x.cycles])
}

func decibels(ratio float64) float64 { return 20 * math.Log10(ratio) }

// lawOf fits the pair as the program does: to 1e-7 of its range.
func lawOf(t testing.TB, p pair) *shape.Law { return mustFit(t, p.law, -40, 40, 4e-6) }

func exactly(p pair) func(float64) float64 {
	return func(x float64) float64 { y, _ := p.at(x); return y }
}

// TestRouteAgainstTruth compares tones through three biases of the pair with the
// exact band-limited output, computed from the closed form. What is asked for is
// -120 dB at 1 kHz and -100 dB at 10 kHz, and no alias above -120 dB, at 4 times;
// the limits are what is reached, with a few decibels to spare.
func TestRouteAgainstTruth(t *testing.T) {
	limits := []struct{ hertz, err, alias float64 }{
		{1000, -129, -164},
		{5000, -131, -138},
		{10000, -130, -139},
	}
	for name, p := range demoPairs() {
		l := lawOf(t, p)
		for _, a := range []float64{drive, drive / 10} {
			for _, limit := range limits {
				x := near(limit.hertz, a)
				err, alias := x.figures(l, harmonics(exactly(p), a, 21), 4)
				t.Logf("%-8s %5g Hz %4g V: error %.1f dB, alias %.1f dB", name, limit.hertz, a, decibels(err), decibels(alias))
				if decibels(err) > limit.err || decibels(alias) > limit.alias {
					t.Errorf("%s, %g Hz, %g V: error %.1f dB, alias %.1f dB: limits %g and %g",
						name, limit.hertz, a, decibels(err), decibels(alias), limit.err, limit.alias)
				}
			}
		}
	}
}

// TestWeakTones does the same 60 dB under full scale, where the crossover is all
// there is, at 1.2 V.
func TestWeakTones(t *testing.T) {
	p := demoPairs()["1.2V"]
	l := lawOf(t, p)
	for _, hertz := range []float64{1000, 10000} {
		x := near(hertz, drive/1000)
		err, alias := x.figures(l, harmonics(exactly(p), x.a, 21), 4)
		t.Logf("%5g Hz: error %.1f dB, alias %.1f dB re the tone", hertz, decibels(err), decibels(alias))
		if decibels(err) > -133 || decibels(alias) > -172 {
			t.Errorf("%g Hz: error %.1f dB, alias %.1f dB re the tone", hertz, decibels(err), decibels(alias))
		}
	}
}

// TestEveryFactor tables the worst of 1, 5 and 10 kHz at full scale and -20 dB for
// each oversampling (go test -v).
func TestEveryFactor(t *testing.T) {
	limits := map[int]float64{1: -30, 2: -112, 4: -138, 8: -151, 16: -151, 32: -151}
	for name, p := range demoPairs() {
		l := lawOf(t, p)
		for _, o := range []int{1, 2, 4, 8, 16, 32} {
			var err, alias float64
			for _, hertz := range []float64{1000, 5000, 10000} {
				for _, a := range []float64{drive, drive / 10} {
					x := near(hertz, a)
					e, b := x.figures(l, harmonics(l.At, a, 21), o)
					err, alias = max(err, e), max(alias, b)
				}
			}
			t.Logf("%-8s %2d times: error %.1f dB, alias %.1f dB", name, o, decibels(err), decibels(alias))
			if decibels(alias) > limits[o] {
				t.Errorf("%s, %d times: alias %.1f dB, limit %g", name, o, decibels(alias), limits[o])
			}
		}
	}
}

// TestLinearRouteIsFlat sweeps tones up to 20 kHz at 44.1 kHz through the linear
// law: gain and delay must be exact within 5e-7 (4e-6 dB).
func TestLinearRouteIsFlat(t *testing.T) {
	for _, o := range []int{1, 2, 4, 8, 16, 32} {
		worst := 0.0
		for cycles := 1; float64(cycles) <= resample.PassEdge*frames; cycles += 247 {
			c := trial{cycles, 1}.spectrum(shape.Linear(0.5), o)[cycles]
			worst = max(worst, cmplx.Abs(c/0.5-1))
		}
		t.Logf("%2d times: within %.1g dB", o, decibels(1+worst))
		if worst > 5e-7 {
			t.Errorf("%d times: %g off", o, worst)
		}
	}
}

// TestFittedLineEqualsLinear runs noise through a straight law that Fit has made
// like any other and through Linear. What is asked for is -140 dB.
func TestFittedLineEqualsLinear(t *testing.T) {
	line := mustFit(t, func(x float64) (float64, float64, error) { return 0.9 * x, 0.9, nil }, -40, 40, 4e-6)
	r := shape.NewRoute([]*shape.Law{line, shape.Linear(0.9)}, 8)
	x := programme(frames, 8)
	y := [][]float64{make([]float64, frames), make([]float64, frames)}
	r.Process(y, x)
	var signal, residual float64
	for i := range x {
		signal = math.Hypot(signal, y[1][i])
		residual = math.Hypot(residual, y[0][i]-y[1][i])
	}
	t.Logf("residual %.1f dB", decibels(residual/signal))
	if decibels(residual/signal) > -250 {
		t.Errorf("residual %.1f dB", decibels(residual/signal))
	}
}
