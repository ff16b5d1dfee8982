package wave

import (
	"bytes"
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"
)

// The theory here is that of Lipshitz, Wannamaker and Vanderkooy, "Quantization
// and Dither: A Theoretical Survey", J. Audio Eng. Soc. 40(5), 1992: with
// triangular dither of two LSB width the total error has mean 0 and variance
// LSB²/4, whatever the signal. Limits are five standard errors; the seeds are
// fixed, so that a run either always passes or never.

const ditherFrames = 400_000

// written is a signal after dither and rounding to 16 bits, in LSB.
func written(t *testing.T, o Options, signal [][]float64) [][]float64 {
	t.Helper()
	scaled := planes(len(signal), len(signal[0]))
	for c := range signal {
		for i, x := range signal[c] {
			scaled[c][i] = x / 32768
		}
	}
	got := samples(t, mustRead(t, write(t, Format{Rate: 48000, Channels: len(signal), Bits: 16}, o, scaled)))
	for c := range got {
		for i := range got[c] {
			got[c][i] *= 32768
		}
	}
	return got
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s is %.6f; want %.6f ± %.6f", what, got, want, tol)
	}
}

// TestDitherDensity holds the variates to the triangular density: moments
// 0, 1/6, 0, 1/15, and its distribution function (Kolmogorov and Smirnov).
func TestDitherDensity(t *testing.T) {
	d := newDither(1, 0)
	x := make([]float64, ditherFrames)
	for i := range x {
		x[i] = d.next()
	}
	n := math.Sqrt(ditherFrames)
	for k, m := range []struct{ want, next float64 }{{0, 1.0 / 6}, {1.0 / 6, 1.0 / 15}, {0, 1.0 / 28}, {1.0 / 15, 1.0 / 45}} {
		var sum float64
		for _, v := range x {
			sum += math.Pow(v, float64(k+1))
		}
		// E[x^2j] = 2/((2j+1)(2j+2)) gives the spread of each moment.
		near(t, "moment", sum/ditherFrames, m.want, 5*math.Sqrt(m.next)/n)
	}
	slices.Sort(x)
	if x[0] < -1 || x[len(x)-1] > 1 || x[0] > -0.99 || x[len(x)-1] < 0.99 {
		t.Errorf("range %v to %v; want nearly -1 to 1", x[0], x[len(x)-1])
	}
	worst := 0.0
	for i, v := range x {
		worst = max(worst, math.Abs(triangular(v)-float64(i)/ditherFrames))
	}
	if limit := 1.63 / n; worst > limit { // 1 % level of the test
		t.Errorf("distribution function is off by %v; limit %v", worst, limit)
	}
}

// triangular is the distribution function of the density 1-|x|.
func triangular(x float64) float64 {
	x = max(-1, min(1, x))
	if x < 0 {
		return (1 + x) * (1 + x) / 2
	}
	return 1 - (1-x)*(1-x)/2
}

// TestDitherOfConstants: for a constant at any place between two codes each
// output code has the probability F(k+½-x) - F(k-½-x), the mean is the constant
// and the variance of the error a quarter.
func TestDitherOfConstants(t *testing.T) {
	signal := planes(8, ditherFrames/4)
	for c := range signal {
		for i := range signal[c] {
			signal[c][i] = 100 + float64(c)/8
		}
	}
	out := written(t, Options{Seed: 7}, signal)
	n := float64(len(out[0]))
	for c := range out {
		x := signal[c][0]
		count := map[float64]float64{}
		for _, y := range out[c] {
			count[y]++
		}
		var total float64
		for k := 98.0; k <= 103; k++ {
			p := triangular(k+0.5-x) - triangular(k-0.5-x)
			near(t, "probability of a code", count[k]/n, p, 5*math.Sqrt(p*(1-p)/n))
			total += count[k]
		}
		if total != n {
			t.Errorf("constant %v: %v samples further than the dither reaches", x, n-total)
		}
		mean, variance := stat.MeanVariance(out[c], nil)
		near(t, "mean", mean, x, 5*0.5/math.Sqrt(n))
		near(t, "variance", variance, 0.25, 5*varianceSpread(n))
	}
}

// varianceSpread bounds the standard error of a variance of n total errors. Of
// all constants one that is a code itself has the largest fourth moment: the
// error is then ±1 with probability 1/8 each, so that E[e⁴] is 1/4.
func varianceSpread(n float64) float64 { return math.Sqrt((1.0/4 - 1.0/16) / n) }

// TestDitherOfTone: the error of a tone of a few LSB is white, has the variance
// of theory and no correlation with the tone, its square or its cube. Rounding
// without dither fails the same test, which shows that it can.
func TestDitherOfTone(t *testing.T) {
	signal := planes(1, ditherFrames)
	for i := range signal[0] {
		signal[0][i] = 1.7 * math.Sin(2*math.Pi*float64(i)*997/48000)
	}
	power := func(k float64) []float64 {
		p := make([]float64, ditherFrames)
		for i, x := range signal[0] {
			p[i] = math.Pow(x, k)
		}
		return p
	}
	limit := 5 / math.Sqrt(ditherFrames)
	for _, o := range []Options{{Seed: 3}, {NoDither: true}} {
		e := written(t, o, signal)[0]
		for i := range e {
			e[i] -= signal[0][i]
		}
		worst := 0.0
		for _, k := range []float64{1, 2, 3} {
			worst = max(worst, math.Abs(stat.Correlation(e, power(k), nil)))
		}
		for lag := 1; lag <= 48; lag++ {
			worst = max(worst, math.Abs(stat.Correlation(e[lag:], e[:len(e)-lag], nil)))
		}
		if o.NoDither {
			if worst < 10*limit {
				t.Errorf("without dither the largest correlation is %v: the test sees nothing", worst)
			}
			continue
		}
		if worst > limit {
			t.Errorf("largest correlation %v; limit %v", worst, limit)
		}
		mean, variance := stat.MeanVariance(e, nil)
		near(t, "mean", mean, 0, 5*0.5/math.Sqrt(ditherFrames))
		near(t, "variance", variance, 0.25, 5*varianceSpread(ditherFrames))
	}
}

// TestDitherOfChannels: the channels' dithers, and those of neighbouring seeds,
// have nothing in common, at any of many shifts.
func TestDitherOfChannels(t *testing.T) {
	var all [][]float64
	for _, o := range []Options{{Seed: 0}, {Seed: 1}} {
		all = append(all, written(t, o, planes(4, ditherFrames/8))...)
	}
	limit := 5 / math.Sqrt(ditherFrames/8)
	for i, a := range all {
		for j, b := range all {
			for lag := range 8 {
				if i == j && lag == 0 {
					continue
				}
				if r := stat.Correlation(a[lag:], b[:len(b)-lag], nil); math.Abs(r) > limit {
					t.Errorf("streams %d and %d at lag %d: correlation %v; limit %v", i, j, lag, r, limit)
				}
			}
		}
	}
}

// TestDitherIsSplitMix64 compares the generator with the outputs published with
// its reference code for the seed 1234567 (value from memory, and the test of
// several libraries).
func TestDitherIsSplitMix64(t *testing.T) {
	s := uint64(1234567)
	for _, want := range []uint64{6457827717110365317, 3203168211198807973, 9817491932198370423, 4593380528125082431, 16408922859458223821} {
		s += goldenGamma
		if got := mix(s); got != want {
			t.Errorf("%d; want %d", got, want)
		}
	}
	// A variate is the upper half of an output less the lower one.
	d := dither(1234567)
	if got, want := d.next(), (float64(6457827717110365317>>32)-float64(6457827717110365317&(1<<32-1)))/(1<<32); got != want {
		t.Errorf("variate %v; want %v", got, want)
	}
}

// TestDitherIsReproducible: equal seeds give equal files however the signal is
// cut, other seeds others.
func TestDitherIsReproducible(t *testing.T) {
	f := Format{Rate: 48000, Channels: 3, Bits: 24}
	signal := ramp(3, 30000)
	whole := write(t, f, Options{Seed: 5}, signal)
	for _, step := range []int{1, 17, 4096, 29999} {
		var blocks [][][]float64
		for from := 0; from < 30000; from += step {
			blocks = append(blocks, cut(signal, from, min(from+step, 30000)))
		}
		if !bytes.Equal(write(t, f, Options{Seed: 5}, blocks...), whole) {
			t.Errorf("blocks of %d frames change the file", step)
		}
	}
	if bytes.Equal(write(t, f, Options{Seed: 6}, signal), whole) {
		t.Error("another seed gives the same file")
	}
}

// TestAccuracyTable measures the table of the package documentation: the noise
// that each format adds to a sine just below full scale, re a full-scale sine.
func TestAccuracyTable(t *testing.T) {
	for _, c := range []struct {
		f                 Format
		rounded, dithered float64 // dB
	}{
		{Format{Bits: 8}, -49.92, -45.15},
		{Format{Bits: 16}, -98.09, -93.32},
		{Format{Bits: 24, ValidBits: 20}, -122.17, -117.40},
		{Format{Bits: 24}, -146.26, -141.49},
		{Format{Bits: 32}, -194.42, -189.65},
		{Format{Bits: 32, Encoding: Float}, floatNoise(), floatNoise()},
	} {
		c.f.Rate, c.f.Channels = 48000, 1
		signal := planes(1, ditherFrames)
		for i := range signal[0] {
			signal[0][i] = toneAmplitude * math.Sin(2*math.Pi*float64(i)*997/48000)
		}
		for _, o := range []Options{{NoDither: true}, {}} {
			got := samples(t, mustRead(t, write(t, c.f, o, signal)))[0]
			var sum float64
			for i, x := range got {
				sum += (x - signal[0][i]) * (x - signal[0][i])
			}
			want := c.dithered
			if o.NoDither {
				want = c.rounded
			}
			near(t, c.f.String()+" noise in dB", 10*math.Log10(2*sum/ditherFrames), want, 0.1)
		}
	}
}

const toneAmplitude = 0.98

// floatNoise is the noise in dB of rounding the tone to binary32: the mean over
// the arcsine distribution of step²/12, where the step halves with each octave
// of amplitude.
func floatNoise() float64 {
	below := func(x float64) float64 { return math.Asin(min(1, x/toneAmplitude)) * 2 / math.Pi }
	var power float64
	for octave := 0.0; octave < 60; octave++ {
		top := math.Exp2(-octave)
		power += (below(top) - below(top/2)) * math.Pow(top*0x1p-24, 2) / 12
	}
	return 10 * math.Log10(2*power)
}
