package bs1387

import (
	"math"
	"testing"
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
