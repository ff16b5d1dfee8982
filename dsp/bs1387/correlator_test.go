package bs1387

import (
	"math"
	"slices"
	"testing"
)

func correlated(t *testing.T, ref, test []float64) Correlation {
	t.Helper()
	c, err := NewCorrelator(Config{Rate: Rate, Channels: 1})
	if err != nil {
		t.Fatal(err)
	}
	c.Add(mono(ref), mono(test))
	return c.Result()
}

// Glasberg & Moore (1990): 132.6 Hz wide at 1 kHz. Bands one width apart.
func TestGammatoneBands(t *testing.T) {
	near(t, "width at 1 kHz", rectangular(1000), 132.639, 1e-3)
	near(t, "first centre", gammatoneCentre(0), 50, 1e-9)
	for i := range gammatoneBands - 1 {
		low, high := gammatoneCentre(i), gammatoneCentre(i+1)
		near(t, "step in widths", (high-low)/rectangular((low+high)/2), 1, 0.01)
	}
}

// The filter has unit gain at its centre, an equivalent rectangular bandwidth as
// wide as asked for, and the envelope t³e^(-2πbt) that gives it its name, which
// peaks at 3/(2πb).
func TestGammatoneResponse(t *testing.T) {
	const f = 1000.0
	g := newGammatone(f)
	x := make([]float64, 1<<14)
	x[0] = 1
	g.process(x, x)
	at := func(f float64) float64 {
		re, im := 0.0, 0.0
		for n, v := range x {
			sin, cos := math.Sincos(2 * math.Pi * f * float64(n) / Rate)
			re, im = re+v*cos, im-v*sin
		}
		return math.Hypot(re, im)
	}
	near(t, "gain at the centre", at(f), 1, 2e-3)
	width := sumOfSquares(x) * Rate / 2 // Parseval, over the gain of 1
	near(t, "equivalent bandwidth", width/rectangular(f), 1, 0.01)
	peak := 0
	for n := range x {
		if math.Abs(x[n]) > math.Abs(x[peak]) {
			peak = n
		}
	}
	near(t, "envelope's peak", float64(peak)/Rate, 3/(2*math.Pi*1.019*rectangular(f)), 0.0003)
}

// A signal correlates fully with itself and with a copy of another gain, less
// with unlike noise (in narrow bands any two stretches of 30 ms are somewhat
// alike), and silence has no correlation.
func TestCorrelatorExtremes(t *testing.T) {
	x := chord(Rate, 0.5)
	near(t, "itself", correlated(t, x, x).Mean, 1, 1e-9)
	near(t, "half of itself", correlated(t, x, plus(x, -0.5, x)).Mean, 1, 1e-9)
	n, other := noise(Rate, 0.1, 1), noise(Rate, 0.1, 2)
	if r := correlated(t, n, other); r.Mean > 0.75 {
		t.Errorf("unlike noise correlates %g", r.Mean)
	}
	if r := correlated(t, slices.Concat(x, noise(Rate, 1e-6, 1)), slices.Concat(x, noise(Rate, 1e-6, 2))); r.Mean < 1-1e-9 {
		t.Errorf("noise far under the silence limit lowers the mean to %g", r.Mean)
	}
	silent := correlated(t, make([]float64, Rate), make([]float64, Rate))
	if silent.Frames != 0 || silent.Mean != 0 {
		t.Errorf("silence: %+v", silent)
	}
}

// More of a dead band is less correlation, and the worst frame is where the
// fault is.
func TestCorrelatorFollowsDistortion(t *testing.T) {
	x := chord(Rate, 0.5)
	last := 1.0
	for _, d := range []float64{0.001, 0.01, 0.05, 0.1} {
		r := correlated(t, x, deadBand(x, d))
		if r.Mean >= last || r.Minimum > r.Mean {
			t.Errorf("dead band %g: %+v after %g", d, r, last)
		}
		last = r.Mean
	}
	y := append([]float64(nil), x...)
	copy(y[Rate/2:Rate/2+Rate/10], noise(Rate/10, 0.2, 8))
	if r := correlated(t, x, y); r.MinimumTime < 0.45 || r.MinimumTime > 0.65 {
		t.Errorf("worst frame at %g s, the fault is at 0.5 to 0.6 s", r.MinimumTime)
	}
}

// The engine's correlation is held against the sum it stands for.
func TestMaximumCorrelationAgainstSum(t *testing.T) {
	a, b := [correlationFrame]float64(noise(correlationFrame, 1, 1)), [correlationFrame]float64(noise(correlationFrame, 1, 2))
	best := math.Inf(-1)
	for lag := -correlationLag; lag <= correlationLag; lag++ {
		sum := 0.0
		for n := max(0, -lag); n < min(correlationFrame, correlationFrame-lag); n++ {
			sum += a[n] * b[n+lag]
		}
		best = max(best, sum)
	}
	best /= math.Sqrt(sumOfSquares(a[:]) * sumOfSquares(b[:]))
	e := newCorrelationEngine()
	near(t, "maximum correlation", e.maximum(&a, &b), best, 1e-12)
}
