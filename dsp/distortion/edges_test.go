package distortion

import (
	"math"
	"testing"
)

// toneOf returns n samples of a cosine of a peak amplitude at 48 kHz.
func toneOf(n int, hertz, amplitude float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = amplitude * math.Cos(2*math.Pi*hertz*float64(i)/48000)
	}
	return x
}

// TestEdgeOfSilence stands on each side of -140 dB RMS.
func TestEdgeOfSilence(t *testing.T) {
	for db, want := range map[float64]Kind{-140.2: Silence, -139.8: SingleTone} {
		x := toneOf(48000, 997, math.Sqrt2*math.Pow(10, db/20))
		if s, err := Detect(x, 48000); err != nil || s.Kind != want {
			t.Errorf("%g dB: %v, %v, want %v", db, s.Kind, err, want)
		}
	}
}

// TestEdgesOfClassify stands on each side of what decides what lines make: shares of
// the power, distances from a nominal frequency, counts and levels of lines.
func TestEdgesOfClassify(t *testing.T) {
	lines := func(n int, last float64) []peak {
		var peaks []peak
		for i := range n {
			peaks = append(peaks, peak{1000 * math.Pow(1.37, float64(i)), 1})
		}
		peaks[n-1].power = last
		return peaks
	}
	for _, c := range []struct {
		name  string
		peaks []peak
		total float64
		want  Kind
		ok    bool
	}{
		{"a tone with 86 % of the power", []peak{{1000, 0.86}}, 1, SingleTone, true},
		{"84 %", []peak{{1000, 0.84}}, 1, 0, false},
		{"a second tone of 1.1 %", []peak{{60, 0.98}, {7001, 0.011}}, 1, TwoTone, true},
		{"0.9 %", []peak{{60, 0.98}, {7001, 0.009}}, 1, SingleTone, true},
		{"tones as 0.24 to 1", []peak{{60, 1}, {7001, 0.24}}, 1.24, TwoTone, true},
		{"0.26 to 1", []peak{{60, 1}, {7001, 0.26}}, 1.26, DifferenceTones, true},
		{"two tones with 84 %", []peak{{60, 0.7}, {7001, 0.14}}, 1, 0, false},
		{"a square 0.9 % high with its sine", []peak{{3178, 1}, {15000, 0.06}, {9534, 0.1}}, 1.17, SquareAndTone, true},
		{"1.1 % high", []peak{{3185, 1}, {15000, 0.06}, {9555, 0.1}}, 1.17, TwoTone, true},
		{"its sine 29 dB under it", []peak{{3150, 1}, {9450, 0.1}, {15000, 1.26e-3}}, 1.12, SquareAndTone, true},
		{"31 dB under it", []peak{{3150, 1}, {9450, 0.1}, {15000, 0.8e-3}}, 1.12, SingleTone, true},
		{"six lines", lines(6, 1), 6, Multitone, true},
		{"five", lines(5, 1), 5, 0, false},
		{"the sixth 25.8 dB down", lines(6, 1/380.0), 5, Multitone, true},
		{"26.2 dB down", lines(6, 1/420.0), 5, 0, false},
		{"six lines with 84 %", lines(6, 1), 6 / 0.84, 0, false},
	} {
		s, ok := classify(c.peaks, c.total)
		if ok != c.ok || ok && s.Kind != c.want {
			t.Errorf("%s: %v, %v; want %v, %v", c.name, s.Kind, ok, c.want, c.ok)
		}
	}
}

// TestEdgeOfAHarmonic: a line within a thousandth of a multiple is a harmonic, of
// the orders asked for.
func TestEdgeOfAHarmonic(t *testing.T) {
	for _, c := range []struct {
		hertz   float64
		highest float64
		want    bool
	}{
		{3002.9, 20, true},
		{3003.1, 20, false},
		{2997.1, 20, true},
		{2996.9, 20, false},
		{20000, 20, true},
		{21000, 20, false},
		{400, 20, false},
	} {
		if got := isHarmonic(c.hertz, 1000, c.highest); got != c.want {
			t.Errorf("%g Hz: %v", c.hertz, got)
		}
	}
	// Of two lines, the weaker is the fundamental only within 3 dB.
	for power, want := range map[float64]float64{0.51: 1000, 0.49: 2000} {
		if got, _ := fundamental([]peak{{2000, 1}, {1000, power}, {3000, 0.3}}); got != want {
			t.Errorf("a line of %g: fundamental %g Hz, want %g", power, got, want)
		}
	}
}

// TestEdgeOfSteady changes a tone's level by a little less and more than 1 dB.
func TestEdgeOfSteady(t *testing.T) {
	for db, want := range map[float64]bool{0.9: true, 1.1: false, -0.9: true, -1.1: false} {
		x := toneOf(30000, 997, 0.5)
		for i := 15000; i < len(x); i++ {
			x[i] *= math.Pow(10, db/20)
		}
		if got := steady(x, 48000, []float64{997}); got != want {
			t.Errorf("%+g dB: %v", db, got)
		}
	}
}

// TestEdgesOfSteps: a level that moves by 2.9 % from block to block stands still, by
// 3.1 % it does not; 0.3 s are a step, 0.25 s are none; below -120 dB there is none.
func TestEdgesOfSteps(t *testing.T) {
	const block = 2400 // 50 ms
	stretch := func(blocks int, amplitude float64) []float64 { return toneOf(blocks*block, 1000, amplitude) }
	for _, c := range []struct {
		name  string
		parts [][]float64
		want  int
	}{
		{"2.9 %", [][]float64{stretch(8, 0.5), stretch(8, 0.5*1.029)}, 1},
		{"3.1 %", [][]float64{stretch(8, 0.5), stretch(8, 0.5*1.031)}, 2},
		{"six blocks", [][]float64{stretch(6, 0.5)}, 1},
		{"five blocks", [][]float64{stretch(5, 0.5)}, 0},
		{"-119.8 dB", [][]float64{stretch(8, math.Sqrt2*1.023e-6)}, 1},
		{"-120.2 dB", [][]float64{stretch(8, math.Sqrt2*0.977e-6)}, 0},
	} {
		var x []float64
		for _, part := range c.parts {
			x = append(x, part...)
		}
		if got := Steps(x, 48000); len(got) != c.want {
			t.Errorf("%s: %d steps, want %d", c.name, len(got), c.want)
		}
	}
}

// TestEdgesOfClipping: three equal samples are a flat top, two are none; a record
// below a thousandth of full scale has none.
func TestEdgesOfClipping(t *testing.T) {
	flat := func(n int, peak float64) []float64 {
		x := toneOf(100, 5003, peak/3)
		for i := range n {
			x[50+i] = peak
		}
		return x
	}
	for _, c := range []struct {
		samples int
		peak    float64
		want    int
	}{{3, 0.5, 3}, {2, 0.5, 0}, {3, 1.01e-3, 3}, {3, 0.99e-3, 0}} {
		if got := Clipping(flat(c.samples, c.peak)); got.Samples != c.want {
			t.Errorf("%d samples of %g: %d found, want %d", c.samples, c.peak, got.Samples, c.want)
		}
	}
}

// TestEdgeOfFewCycles: with fewer than a hundred a tone's figures carry a warning,
// with fewer than twelve there are none.
func TestEdgeOfFewCycles(t *testing.T) {
	for _, c := range []struct {
		cycles float64
		warns  bool
		fails  bool
	}{{11.5, false, true}, {12.5, true, false}, {99, true, false}, {101, false, false}} {
		hertz := c.cycles * 48000 / 19200
		tone, err := HarmonicsNear(toneOf(19200, hertz, 0.5), 48000, hertz)
		if (err != nil) != c.fails {
			t.Errorf("%g cycles: %v", c.cycles, err)
		}
		if err == nil && (len(tone.Warnings) > 0) != c.warns {
			t.Errorf("%g cycles: warnings %q", c.cycles, tone.Warnings)
		}
	}
}
