package signal

import (
	"math"
	"math/cmplx"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/mat"
)

// take names one generated sound.
type take struct {
	name string
	rate int
	seed uint64
}

// takes keeps what must has generated: the tests share it and change nothing.
var takes = map[take][][]float64{}

// must generates, once for all tests, or stops the test.
func must(t testing.TB, name string, rate int, seed uint64) [][]float64 {
	t.Helper()
	key := take{name, rate, seed}
	if x, ok := takes[key]; ok {
		return x
	}
	m, err := Lookup(name)
	if err != nil {
		t.Fatal(err)
	}
	x, err := m.Generate(rate, seed)
	if err != nil {
		t.Fatal(err)
	}
	takes[key] = x
	return x
}

// leastSquares fits sines of the given frequencies in hertz to x and returns
// their complex amplitudes a (a sine of phase p is |a|·sin(ωt + p), t counted
// from the start of x) and the residual's RMS.
func leastSquares(t testing.TB, x []float64, rate float64, hz ...float64) (amplitudes []complex128, residual float64) {
	t.Helper()
	a := mat.NewDense(len(x), 2*len(hz), nil)
	for i := range x {
		for k, f := range hz {
			_, u := math.Modf(f / rate * float64(i))
			sin, cos := math.Sincos(2 * math.Pi * u)
			a.Set(i, 2*k, sin)
			a.Set(i, 2*k+1, cos)
		}
	}
	var fit, left mat.VecDense
	if err := fit.SolveVec(a, mat.NewVecDense(len(x), x)); err != nil {
		t.Fatal(err)
	}
	left.MulVec(a, &fit)
	left.SubVec(mat.NewVecDense(len(x), x), &left)
	for k := range hz {
		amplitudes = append(amplitudes, complex(fit.AtVec(2*k), fit.AtVec(2*k+1)))
	}
	return amplitudes, mat.Norm(&left, 2) / math.Sqrt(float64(len(x)))
}

// spectrum returns the bins of x for lines of half-length amplitude: a sine of
// amplitude 1 on a bin reads 1.
func spectrum(x []float64) []complex128 {
	bins := fourier.NewFFT(len(x)).Coefficients(nil, x)
	for i := range bins {
		bins[i] *= complex(2/float64(len(x)), 0)
	}
	return bins
}

// hann returns x under a periodic Hann window of mean 1.
func hann(x []float64) []float64 {
	y := make([]float64, len(x))
	for i, v := range x {
		y[i] = v * (1 - math.Cos(2*math.Pi*float64(i)/float64(len(x))))
	}
	return y
}

// line returns the frequency in hertz of the strongest line within width of
// near, from a parabola through the logarithms of three bins.
func line(x []float64, rate, near, width float64) float64 {
	padded := make([]float64, 4*len(x))
	copy(padded, hann(x))
	bins := spectrum(padded)
	step := rate / float64(len(padded))
	best := int((near - width) / step)
	for i := best; i <= int((near+width)/step); i++ {
		if cmplx.Abs(bins[i]) > cmplx.Abs(bins[best]) {
			best = i
		}
	}
	l, c, r := math.Log(cmplx.Abs(bins[best-1])), math.Log(cmplx.Abs(bins[best])), math.Log(cmplx.Abs(bins[best+1]))
	return step * (float64(best) + (l-r)/(2*(l-2*c+r)))
}

// cents returns the interval from b up to a.
func cents(a, b float64) float64 { return 1200 * math.Log2(a/b) }

// decayTime returns the time to −60 dB by Schroeder's backward integration
// (J. Acoust. Soc. Am. 37:409, 1965), from the slope between from and to dB
// (ISO 3382-1 takes −5 and −35 for T30).
func decayTime(x []float64, rate, from, to float64) float64 {
	energy := make([]float64, len(x)+1)
	for i := len(x) - 1; i >= 0; i-- {
		energy[i] = energy[i+1] + x[i]*x[i]
	}
	var n, st, sl, stt, stl float64
	for i, e := range energy[:len(x)] {
		l, t := 10*math.Log10(e/energy[0]), float64(i)/rate
		if l < from && l > to {
			n, st, sl, stt, stl = n+1, st+t, sl+l, stt+t*t, stl+t*l
		}
	}
	return -60 * (n*stt - st*st) / (n*stl - st*sl)
}

// rms returns the root of the mean square.
func rms(x []float64) float64 {
	var sum float64
	for _, v := range x {
		sum += v * v
	}
	return math.Sqrt(sum / float64(len(x)))
}

// db returns an amplitude ratio in decibels.
func db(ratio float64) float64 { return 20 * math.Log10(ratio) }

// bandPower returns the power of x between lo and hi hertz.
func bandPower(x []float64, rate, lo, hi float64) float64 {
	var sum float64
	for i, v := range spectrum(x) {
		if f := float64(i) * rate / float64(len(x)); f >= lo && f < hi {
			a := cmplx.Abs(v)
			sum += a * a / 2
		}
	}
	return sum
}
