package bs1387

import (
	"math"
	"math/rand/v2"
	"testing"

	"quietcross/dsp/level"
)

func near(t *testing.T, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: %.9g, want %.9g ± %.2g", what, got, want, tolerance)
	}
}

// BS.1387-1, Annex 2, table of the bands of the FFT-based model; first and last
// rows, from memory, printed there to a thousandth of a hertz.
func TestBandTable(t *testing.T) {
	bands := newBands()
	for _, row := range []struct {
		k                 int
		low, centre, high float64
	}{
		{0, 80, 91.708, 103.445},
		{1, 103.445, 115.216, 127.023},
		{108, 17385.420, 17690.045, 18000},
	} {
		b := bands[row.k]
		near(t, "low edge", b.low, row.low, 0.003)
		near(t, "centre", b.centre, row.centre, 0.003)
		near(t, "high edge", b.high, row.high, 0.003)
	}
}

// 7 asinh(f/650): closed form. Quarter-Bark bands from 80 Hz to 18 kHz number
// ⌈(z(18000) - z(80))/0.25⌉ = 109.
func TestBarkScale(t *testing.T) {
	near(t, "bark(650)", bark(650), 7*math.Log(1+math.Sqrt2), 1e-12)
	for _, f := range []float64{20, 80, 1000, 18000} {
		near(t, "hertz(bark(f))", hertz(bark(f)), f, 1e-9*f)
	}
	if n := math.Ceil((bark(bandHigh) - bark(bandLow)) / bandWidth); n != bandCount {
		t.Errorf("%g bands, want %d", n, bandCount)
	}
	bands := newBands()
	for k, b := range bands[:bandCount-1] {
		near(t, "width in Bark", bark(b.high)-bark(b.low), 0.25, 1e-12)
		near(t, "gap to the next", bands[k+1].low-b.high, 0, 1e-9)
		if got := bandAt(b.centre); got != k {
			t.Errorf("bandAt(%g) = %d, want %d", b.centre, got, k)
		}
	}
}

// A flat spectrum of one a line gives each band its width in lines, and nothing
// is counted twice: 18 kHz less 80 Hz in all.
func TestGroupingKeepsEnergy(t *testing.T) {
	m := standard()
	var flat [lineCount]float64
	for i := range flat {
		flat[i] = 1
	}
	var got pattern
	m.grouping.sum(&got, &flat)
	total := 0.0
	for k, b := range m.bands {
		near(t, "energy of a band", got[k], (b.high-b.low)/lineSpacing, 1e-9)
		total += got[k]
	}
	near(t, "energy of all bands", total, (18000.0-80)/lineSpacing, 1e-9)
}

// BS.1387, 2.1.5: no band has less than 10^-12.
func TestGroupingFloor(t *testing.T) {
	var silence [lineCount]float64
	var got pattern
	standard().grouping.sum(&got, &silence)
	for _, e := range got {
		near(t, "energy of silence", e, 1e-12, 0)
	}
}

// slowSpread is BS.1387, 2.1.7, written as it reads: for each band the pattern
// of slopes, divided by its sum, times the energy; then the sum under 0.4.
func slowSpread(bands *[bandCount]band, energy *pattern) (out pattern) {
	for j, e := range energy {
		var one pattern
		sum := 0.0
		upper := 24 + 230/bands[j].centre - 0.2*10*math.Log10(e)
		for k := range one {
			fall := 27 * float64(j-k) * 0.25
			if k > j {
				fall = upper * float64(k-j) * 0.25
			}
			one[k] = math.Pow(10, -fall/10)
			sum += one[k]
		}
		for k := range one {
			out[k] += math.Pow(e*one[k]/sum, 0.4)
		}
	}
	for k := range out {
		out[k] = math.Pow(out[k], 2.5)
	}
	return out
}

func TestSpreadAgainstSlow(t *testing.T) {
	m := standard()
	r := rand.New(rand.NewPCG(1, 2))
	var flat pattern
	for k := range flat {
		flat[k] = 1
	}
	zero := slowSpread(&m.bands, &flat)
	for range 20 {
		var energy, got pattern
		for k := range energy {
			energy[k] = math.Pow(10, -1+11*r.Float64())
		}
		want := slowSpread(&m.bands, &energy)
		m.spread.apply(&got, &energy)
		for k := range got {
			near(t, "spread", got[k]*zero[k]/want[k], 1, 1e-9)
		}
	}
}

// 0 dB in every band stays 0 dB: BS.1387's normalisation.
func TestSpreadKeepsZero(t *testing.T) {
	var flat pattern
	for k := range flat {
		flat[k] = 1
	}
	standard().spread.apply(&flat, &flat)
	for _, e := range flat {
		near(t, "0 dB", e, 1, 1e-12)
	}
}

// The excitation of a tone: 27 dB/Bark below and 24 + 230/f - 0.2 L above it,
// and a sum of the tone's energy before normalisation.
func TestToneSlopes(t *testing.T) {
	m := standard()
	for _, j := range []int{20, 54, 90} {
		for _, l := range []float64{40, 60, 80} {
			var energy, got pattern
			for k := range energy {
				energy[k] = 1e-30
			}
			energy[j] = math.Pow(10, l/10)
			m.spread.apply(&got, &energy)
			sum := 0.0
			for k := range got {
				got[k] /= m.spread.scale[k]
				sum += got[k]
			}
			lower := 10 * math.Log10(got[j-4]/got[j-8]) // one Bark
			upper := 10 * math.Log10(got[j+4]/got[j+8])
			near(t, "lower slope", lower, 27, 1e-3)
			near(t, "upper slope", upper, 24+230/m.bands[j].centre-0.2*l, 1e-3)
			near(t, "energy", sum/energy[j], 1, 1e-3)
		}
	}
}

func TestGeometric(t *testing.T) {
	for _, r := range []float64{0.1, 0.9, 0.9999, 1, 1.01, 2} {
		want := 0.0
		for i := range 17 {
			want += math.Pow(r, float64(i))
		}
		near(t, "sum", geometric(r, math.Log(r), 17)/want, 1, 1e-8)
	}
}

// bandAt returns the band that holds f, or the nearest one.
func bandAt(f float64) int {
	k := int((bark(f) - bark(bandLow)) / bandWidth)
	return max(0, min(bandCount-1, k))
}

// terhardt is the threshold in quiet, dB SPL, whose parts the model takes:
//
//	3.64 F^-0.8 - 6.5 exp(-0.6 (F - 3.3)²) + 10^-3 F⁴, F in kHz
//
// (E. Terhardt, Calculating virtual pitch, Hearing Research 1, 1979).
func terhardt(f float64) float64 {
	kilo := f / 1000
	canal := kilo - 3.3
	return 3.64*math.Pow(kilo, -0.8) - 6.5*math.Exp(-0.6*canal*canal) + 1e-3*math.Pow(kilo, 4)
}

// A tone at threshold in quiet is one whose energy behind the outer ear equals
// the internal noise of its band. Up to 6.3 kHz this is Terhardt's threshold
// within 1 dB; above, the model's exponent of 3.6 instead of 4 parts from it.
func TestModelThresholdInQuiet(t *testing.T) {
	m := standard()
	for _, f := range []float64{
		100, 125, 160, 200, 250, 315, 400, 500, 630, 800,
		1000, 1250, 1600, 2000, 2500, 3150, 4000, 5000, 5600, 6300,
	} {
		i := int(math.Round(f / lineSpacing))
		f = float64(i) * lineSpacing
		tone := level.FromPower(m.noise[bandAt(f)] / m.outer[i])
		near(t, "threshold of the model", float64(tone), terhardt(f), 1)
	}
}

// BS.1387, 2.1.6: 0.4·3.64·(f/kHz)^-0.8 dB is 1.456 dB at 1 kHz and 10^0.8
// times that at 100 Hz.
func TestInternalNoise(t *testing.T) {
	near(t, "1 kHz", float64(internalNoise(1000)), 1.456, 1e-12)
	near(t, "100 Hz", float64(internalNoise(100)), 1.456*math.Pow(10, 0.8), 1e-12)
}

// BS.1387, 2.1.9: 3 dB up to 12 Bark, then 0.25 dB/Bark; continuous at 12 Bark,
// and 27 Bark above the first band in the last.
func TestMaskOffset(t *testing.T) {
	for k, want := range map[int]level.DB{0: 3, 20: 3, 48: 3, 52: 3.25, 80: 5, 108: 6.75} {
		if got := maskOffset(k); got != want {
			t.Errorf("band %d: %g dB, want %g", k, float64(got), float64(want))
		}
	}
}
