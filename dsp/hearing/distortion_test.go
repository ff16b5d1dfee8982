package hearing

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat"

	"quietcross/dsp/distortion"
)

// Distortion as listeners published it. Agreement and disagreement are printed and
// stated in README.md; what is asserted is what agrees.

// residual returns the RMS of y less x, mean removed, re that of x.
func residual(x, y []float64) float64 {
	mean, own, other := 0.0, 0.0, 0.0
	for i := range x {
		mean += (y[i] - x[i]) / float64(len(x))
	}
	for i := range x {
		d := y[i] - x[i] - mean
		own += x[i] * x[i]
		other += d * d
	}
	return math.Sqrt(other / own)
}

// heardResidual returns the residual at which a law of strength s is heard with d' 1 in a
// room of the noise rating.
func heardResidual(t testing.TB, x []float64, nr float64, law func(s, v float64) float64) float64 {
	test := func(s float64) []float64 { return matched(x, func(v float64) float64 { return law(s, v) }) }
	heard := inRoom(standard, nr)(testRate, x)
	s := solve(func(s float64) float64 { return heard(test(s)) }, 1e-5, 3)
	return residual(x, test(s))
}

// livingRoom is the noise rating of a quiet one (common practice: 20 to 30).
const livingRoom = 20

// slopes at zero differ: y = x + s |x|, of which any level makes the same percentage.
func slopeChange(s, v float64) float64 { return v + s*math.Abs(v) }

// tones and music are the signals; all about 75 dB SPL.
func toneAt(f float64) []float64 {
	return sine(testRate, gate(testRate, 1.2, 0.05, 1.15, 0.05), f, 75, 0.3)
}

// slow is a chord with overtones that decays, quick the same struck four times a
// second, with noise bursts as of a brush.
func slow() []float64 { return programme(testRate, 1.5, 0.15)[0] }

func quick() []float64 {
	x := slow()
	n := len(x) / 6
	hiss := bandNoise(testRate, gate(testRate, 1.5, -1, 2.5, 0.1), 1000, 12000, 15, 9)
	y := make([]float64, len(x))
	for i := range y {
		y[i] = x[i%n]*math.Exp(-8*float64(i%n)/testRate) + 3*hiss[i]*math.Exp(-30*float64((i+n/2)%n)/testRate)
	}
	return y
}

// TestSlopeChange: J. Vanderkooy and K. Krauel, Another View of Distortion Perception,
// AES eBrief 76 (2012), abstract, read: a change of slope between positive and negative
// signals is detectable above 1 % on signals chosen for it, and in music at 5 % or more.
func TestSlopeChange(t *testing.T) {
	silent, worst := math.Inf(1), math.Inf(1)
	for _, f := range []float64{110, 440, 1000, 3000} {
		p := 100 * heardResidual(t, toneAt(f), 0, slopeChange)
		q := 100 * heardResidual(t, toneAt(f), livingRoom, slopeChange)
		t.Logf("slope change, tone of %g Hz: %.2f %% in silence, %.2f %% in a quiet room", f, p, q)
		silent, worst = min(silent, p), min(worst, q)
	}
	music := math.Inf(1)
	for name, x := range map[string][]float64{"slow": slow(), "quick": quick()} {
		p := 100 * heardResidual(t, x, livingRoom, slopeChange)
		t.Logf("slope change, %s: %.2f %%", name, p)
		music = min(music, p)
	}
	if silent > worst {
		t.Errorf("tones are heard from %.2f %% in silence, %.2f in a room", silent, worst)
	}
	if music < 1.67 || music > 15 { // a third and three times 5 %
		t.Errorf("music is heard from %.2f %%, published: 5 %% or more", music)
	}
	if music < worst {
		t.Errorf("music is heard from %.2f %%, tones from %.2f", music, worst)
	}
}

// TestOrders: E. M. de Santis and S. Henin, Aalborg University (2007), abstract, read:
// thresholds of clipping are much lower than those of second- and third-order systems,
// and nearly independent of the kind of music.
func TestOrders(t *testing.T) {
	laws := map[string]func(s, v float64) float64{
		"clipping": func(s, v float64) float64 { c := 0.15 / (1 + 20*s); return max(-c, min(c, v)) },
		"second":   func(s, v float64) float64 { return v + 10*s*v*v },
		"third":    func(s, v float64) float64 { return v + 50*s*v*v*v },
	}
	heard := map[string][2]float64{}
	for name, law := range laws {
		two := [2]float64{100 * heardResidual(t, slow(), livingRoom, law), 100 * heardResidual(t, quick(), livingRoom, law)}
		t.Logf("%s: slow %.2f %%, quick %.2f %%", name, two[0], two[1])
		heard[name] = two
	}
	for i := range 2 {
		if c := heard["clipping"][i]; c >= heard["second"][i] || c >= heard["third"][i] {
			t.Errorf("music %d: clipping is heard from %.2f %%, not under second %.2f and third order %.2f",
				i, c, heard["second"][i], heard["third"][i])
		}
	}
}

// TestSmoothMetric: L. W. Lee and E. R. Geddes, AES 115 (2003): listeners' ratings of 21
// smooth laws follow Gm with r = 0.95 and neither THD nor intermodulation (from memory).
// Laws of several orders and strengths on the same music: d' against Gm and THD, all
// logarithmic.
func TestSmoothMetric(t *testing.T) {
	x := slow()
	peak := 0.0
	for _, v := range x {
		peak = max(peak, math.Abs(v))
	}
	r := referenceOf(standard, Config{Rate: testRate, Channels: 1, PlaybackSPL: testSPL}, [][]float64{x})
	var d, gm, thd []float64
	for order := 2; order <= 7; order++ {
		for _, a := range []float64{0.003, 0.02, 0.1} {
			n := float64(order)
			law := func(v float64) float64 { return v + a*math.Pow(v, n) }
			y := matched(x, func(v float64) float64 { return peak * law(v/peak) })
			d = append(d, math.Log(r.Compare([][]float64{y}).DPrime))
			curve := make([]float64, 2001)
			for i := range curve {
				curve[i] = law(float64(i-1000) / 1000)
			}
			metric, err := distortion.GmSampled(curve)
			if err != nil {
				t.Fatal(err)
			}
			gm = append(gm, math.Log(metric))
			thd = append(thd, math.Log(sineTHD(law)))
		}
	}
	withGm, withTHD := stat.Correlation(d, gm, nil), stat.Correlation(d, thd, nil)
	t.Logf("correlation of d' with Gm %.2f, with THD %.2f", withGm, withTHD)
	if withGm < 0.8 {
		t.Errorf("d' follows Gm with r = %.2f, THD with %.2f", withGm, withTHD)
	}
}

// sineTHD returns the distortion of a law for a full-scale sine.
func sineTHD(law func(float64) float64) float64 {
	const n = 1024
	total, sine, mean, fundamental := 0.0, 0.0, 0.0, 0.0
	for i := range n {
		s := math.Sin(2 * math.Pi * (float64(i) + 0.5) / n)
		v := law(s)
		total += v * v / n
		mean += v / n
		fundamental += 2 * v * s / n
	}
	sine = fundamental * fundamental / 2
	return math.Sqrt(max(0, total-mean*mean-sine) / sine)
}
