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

// soundOf returns the sensation of the last frame of a steady tone of the given
// level in dB SPL.
func soundOf(t *testing.T, f, spl float64) sensation {
	t.Helper()
	r, err := NewReference(Config{Rate: Rate, Channels: 1}, [][]float64{sine(20*hop, math.Pow(10, (spl-92)/20), f)})
	if err != nil {
		t.Fatal(err)
	}
	return r.whole.frames[len(r.whole.frames)-1][0]
}

// One band over silence in closed form (BS.1387, 3.3), 24/109 Bark a band.
func TestLoudnessOfOneBand(t *testing.T) {
	m := standard()
	var got pattern
	for k, b := range m.bands {
		got[k] = math.Pow(10, 0.364*math.Pow(b.centre/1000, -0.8)) // at threshold: silent
	}
	near(t, "at threshold", m.loudness.total(&got), 0, 1e-12)
	const k = 60
	f := m.bands[k].centre / 1000
	quiet := got[k]
	got[k] = 1e5
	s := math.Pow(10, (-2-2.05*math.Atan(f/4)-0.75*math.Atan(math.Pow(f/1.6, 2)))/10)
	want := 24.0 / 109 * 1.07664 * math.Pow(quiet/s/1e4, 0.23) * (math.Pow(1-s+s*1e5/quiet, 0.23) - 1)
	near(t, "one band", m.loudness.total(&got), want, 1e-12)
}

// Loudness doubles with every 10 dB: Stevens' rule, ISO 532. The standard's
// simple pattern keeps to it within a sixth from 50 dB up. (Its constant, said to
// make 40 dB at 1 kHz one sone, makes it 0.58; only the gate of 0.1 sone before
// noise loudness depends on it.)
func TestLoudnessGrows(t *testing.T) {
	m := standard()
	last := 0.0
	for spl := 50.0; spl <= 90; spl += 10 {
		tone := soundOf(t, 1000, spl)
		sone := m.loudness.total(&tone.excitation)
		if last > 0 {
			near(t, "growth over 10 dB", sone/last, 2, 2.0/6)
		}
		last = sone
	}
}

// Nothing more in the test is no noise loudness; a single band of excess has the
// closed form of BS.1387, 4.3.
func TestNoiseLoudness(t *testing.T) {
	m := standard()
	var ref, test sensation
	var r, x pattern
	for k := range r {
		r[k], x[k] = 1000, 900
	}
	near(t, "less is nothing", m.noiseLoudness(&r, &x, &ref, &test), 0, 0)
	const k, depthRef, depthTest = 40, 0.2, 0.7
	x[k] = 3000
	ref.depth[k], test.depth[k] = depthRef, depthTest
	sr, st := 0.15*depthRef+0.5, 0.15*depthTest+0.5
	noise := m.noise[k]
	beta := math.Exp(-1.5 * (3000 - 1000.0) / 1000)
	want := 24.0 / 109 * math.Pow(noise/st, 0.23) *
		(math.Pow(1+(st*3000-sr*1000)/(noise+sr*1000*beta), 0.23) - 1)
	near(t, "one band", m.noiseLoudness(&r, &x, &ref, &test), want, 1e-12)
}

// BS.1387, 4.2, in closed form for one band of 109.
func TestModulationDifference(t *testing.T) {
	m := standard()
	var ref, test sensation
	ref.depth[10], test.depth[10] = 0.4, 1.0
	first, second, _ := m.modulationDifference(&ref, &test)
	near(t, "rise, first", first, 100.0/109*0.6/1.4, 1e-12)
	near(t, "rise, second", second, 100.0/109*0.6/0.41, 1e-12)
	first, second, _ = m.modulationDifference(&test, &ref)
	near(t, "fall, first", first, 100.0/109*0.6/2, 1e-12)
	near(t, "fall, second", second, 100.0/109*0.1*0.6/1.01, 1e-12)
	for k := range ref.mean {
		ref.mean[k] = 100 * math.Pow(m.noise[k], 0.3)
	}
	_, _, weight := m.modulationDifference(&ref, &test)
	near(t, "half weight at 100 times the noise", weight, 109.0/2, 1e-9)
}
