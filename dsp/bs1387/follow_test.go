package bs1387

import (
	"math"
	"testing"
)

// BS.1387, 2.1.8 and 3.1: 8 ms + 100 Hz/f·22 ms for smearing and 42 ms for
// adaptation; 30 and 50 ms at 100 Hz, 8 ms far above.
func TestTimeConstants(t *testing.T) {
	near(t, "smearing at 100 Hz", timeConstant(100, smearAt100), 0.030, 1e-15)
	near(t, "adaptation at 100 Hz", timeConstant(100, followAt100), 0.050, 1e-15)
	near(t, "smearing at 1 kHz", timeConstant(1000, smearAt100), 0.0102, 1e-15)
	near(t, "far above", timeConstant(1e9, smearAt100), 0.008, 1e-8)
}

// After a burst the excitation decays with the band's time constant, and a rise
// is passed at once.
func TestSmear(t *testing.T) {
	m := standard()
	var burst, silence, state, got pattern
	for k := range burst {
		burst[k] = 1e6
	}
	smear(&got, &state, &m.smear, &burst)
	near(t, "at once", got[0], 1e6, 0)
	var first pattern
	smear(&first, &state, &m.smear, &silence)
	smear(&got, &state, &m.smear, &silence)
	for k, b := range m.bands {
		want := -10 * math.Log10(math.E) * (1024.0 / 48000) / timeConstant(b.centre, 0.030)
		near(t, "decay in dB", 10*math.Log10(got[k]/first[k]), want, 1e-9)
	}
}

// A constant change of gain is adapted away whichever signal is the louder.
func TestLevelAdaptation(t *testing.T) {
	m := standard()
	for _, gain := range []float64{0.25, 4} {
		var a adaptation
		var ref, test, outRef, outTest pattern
		for k := range ref {
			ref[k] = 1e5 * float64(1+k%7)
			test[k] = gain * ref[k]
		}
		for range 100 {
			a.apply(&outRef, &outTest, &m.follow, &ref, &test)
		}
		near(t, "correction", a.levelCorrection(&m.follow, &ref, &test), 1/gain, 1e-12)
		for k := range ref {
			near(t, "adapted", outTest[k]/outRef[k], 1, 1e-9)
			near(t, "never raised", max(0, outRef[k]-ref[k], outTest[k]-test[k]), 0, 1e-6)
		}
	}
}

// A tilt of the spectrum that is smooth over the eight bands of the average is
// adapted away but for what the average blurs: 0.02 dB/band over 8 bands.
func TestPatternAdaptation(t *testing.T) {
	m := standard()
	var a adaptation
	var ref, test, outRef, outTest pattern
	for k := range ref {
		ref[k] = 1e5
		test[k] = 1e5 * math.Pow(10, 0.002*(float64(k)-54))
	}
	for range 100 {
		a.apply(&outRef, &outTest, &m.follow, &ref, &test)
	}
	for k := range ref {
		left := 10 * math.Log10(outTest[k]/outRef[k])
		near(t, "tilt left over", left, 0, 0.02*4)
	}
}

// Steady excitation has no modulation. One whose simplified loudness jumps
// between a and b each hop has the slope |a-b|/hop and the mean (a+b)/2, up to
// the ripple that the filter leaves.
func TestModulationDepth(t *testing.T) {
	m := standard()
	var steady, depth, mean pattern
	for k := range steady {
		steady[k] = 1e6
	}
	var e envelope
	for range 400 {
		e.add(&depth, &mean, &m.follow, &steady)
	}
	for k := range depth {
		near(t, "steady", depth[k], 0, 1e-6)
		near(t, "mean", mean[k], math.Pow(1e6, 0.3), 1e-6)
	}
	const low, high = 50.0, 60.0
	low3, high3 := math.Pow(low, 1/0.3), math.Pow(high, 1/0.3)
	for n := range 400 {
		for k := range steady {
			steady[k] = low3
			if n%2 == 0 {
				steady[k] = high3
			}
		}
		e.add(&depth, &mean, &m.follow, &steady)
	}
	// Ripple: the mean is between the two, the slope is exact.
	near(t, "jumping, most", min(depth[0], (high-low)/hopTime/(1+low/0.3)), depth[0], 0)
	near(t, "jumping, minimum", max(depth[0], (high-low)/hopTime/(1+high/0.3)), depth[0], 0)
}
