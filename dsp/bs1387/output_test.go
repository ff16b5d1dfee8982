package bs1387

import (
	"math"
	"testing"
)

// lowpassed is a spectrum of 60 dB up to a line, 20 dB above it.
func lowpassed(lines int) (s [lineCount]float64) {
	for i := range s {
		s[i] = 10
		if i < lines {
			s[i] = 1000
		}
	}
	return s
}

// BS.1387, 4.4: the bandwidth is the number of the highest line, plus one, that
// is 10 dB (reference) or 5 dB (test) above the noise near the top.
func TestBandwidths(t *testing.T) {
	full, narrow := lowpassed(800), lowpassed(500)
	ref, test := bandwidths(&full, &narrow)
	if ref != 800 || test != 500 {
		t.Errorf("bandwidths %d and %d, want 800 and 500", ref, test)
	}
	narrow[600], narrow[650] = 10*math.Pow(10, 5.1/20), 10*math.Pow(10, 4.9/20)
	full[850], full[900] = 10*math.Pow(10, 10.1/20), 10*math.Pow(10, 9.9/20)
	ref, test = bandwidths(&full, &narrow)
	if ref != 851 || test != 601 {
		t.Errorf("bandwidths %d and %d, want 851 and 601", ref, test)
	}
}

// BS.1387, 5.2.4: frames with less than 346 lines are not averaged.
func TestNarrowFramesAreNotAveraged(t *testing.T) {
	var a tally
	a.addBandwidths(346, 300)
	a.addBandwidths(500, 400)
	near(t, "reference", a.bandwidthRef.value(), 500, 0)
	near(t, "test", a.bandwidthTest.value(), 400, 0)
}

// BS.1387, 4.5: with the error equal to the mask in every band the ratio is 1,
// and the largest of them is what a disturbed frame is judged by.
func TestNoiseToMask(t *testing.T) {
	m := standard()
	var ref, test sensation
	var scratch [lineCount]float64
	for i := range ref.lines {
		ref.lines[i], test.lines[i] = 100, 101
	}
	var noise pattern
	var error [lineCount]float64
	for i := range error {
		error[i] = m.outer[i]
	}
	m.grouping.sum(&noise, &error)
	for k := range noise {
		ref.excitation[k] = noise[k] * maskOffset(k).Power()
	}
	mean, most := m.noiseToMask(&scratch, &ref, &test)
	near(t, "mean ratio", mean, 1, 1e-12)
	near(t, "largest ratio", most, 1, 1e-12)
	ref.excitation[50] /= 3
	mean, most = m.noiseToMask(&scratch, &ref, &test)
	near(t, "mean ratio", mean, 1+2.0/109, 1e-12)
	near(t, "largest ratio", most, 3, 1e-12)
}

// A logarithmic difference that is a cosine over frequency has a cosine for its
// correlation, whose line under the window √(8/3)·Hann/256 has the power
// (√(8/3)/4)² = 1/6; equal spectra have none.
func TestErrorHarmonicStructure(t *testing.T) {
	h := newHarmonics()
	var ref, test [lineCount]float64
	for i := range ref {
		ref[i] = 100
		test[i] = 100 * math.Exp(0.1*math.Cos(2*math.Pi*float64(i)/16))
	}
	near(t, "cosine", h.peak(&ref, &test), 1.0/6, 2e-3)
	near(t, "equal", h.peak(&ref, &ref), 0, 0)
	for i := range test {
		test[i] = ref[i] * math.Exp(0.1*noise(1, 1, uint64(i))[0])
	}
	if p := h.peak(&ref, &test); p > 0.01 {
		t.Errorf("a random difference has the structure %g", p)
	}
}

// The fast correlation is held against the sum it stands for.
func TestCorrelationAgainstSum(t *testing.T) {
	h := newHarmonics()
	copy(h.difference[:], noise(2*lagCount, 1, 3))
	var got [lagCount]float64
	h.correlate(got[:])
	d := h.difference
	for lag := range got {
		sum, own, shifted := 0.0, 0.0, 0.0
		for k := range lagCount {
			sum += d[k] * d[k+lag]
			own += d[k] * d[k]
			shifted += d[k+lag] * d[k+lag]
		}
		near(t, "correlation", got[lag], sum/math.Sqrt(own*shifted), 1e-12)
	}
}

// The averages of BS.1387, 5.2: a constant is its own average, and the windowed
// average of one burst of four frames among n is its value over √(count).
func TestAverages(t *testing.T) {
	var m mean
	near(t, "nothing", m.value(), 0, 0)
	m.add(4, 1)
	m.add(1, 3)
	near(t, "weighted", m.value(), 7.0/4, 1e-15)
	var w windowed
	for range 3 {
		w.add(9)
	}
	near(t, "too short", w.value(), 0, 0)
	for range 10 {
		w.add(9)
	}
	near(t, "constant", w.value(), 9, 1e-12)
	w = windowed{}
	for n := range 100 {
		w.add(map[bool]float64{true: 16, false: 0}[n == 50])
	}
	// Four windows see √16/4 = 1; 97 windows in all.
	near(t, "burst", w.value(), math.Sqrt(4.0/97), 1e-12)
}
