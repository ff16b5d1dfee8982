package bs1387

import (
	"math"
	"testing"
)

// soundOf returns the sensation of the last frame of a steady tone of the given
// level in dB SPL.
func soundOf(t *testing.T, f, spl float64) sensation {
	t.Helper()
	r, err := NewReference(Config{Rate: Rate, Channels: 1}, [][]float64{sine(20*hop, math.Pow(10, (spl-92)/20), f)})
	if err != nil {
		t.Fatal(err)
	}
	return r.frames[len(r.frames)-1][0]
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
