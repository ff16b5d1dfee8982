package bias

import (
	"math"
	"slices"
	"testing"

	"quietcross/dsp/shape"
	"quietcross/stage"
)

// Figures come from a law that is fitted to a billionth of its range, which is one and a
// half times the drive or as many times twice as a peak asks for; rendering from one of a
// ten-millionth.
func TestLawsAreAsFineAsSaid(t *testing.T) {
	l, e := at(t, "pair-1w", stage.Bias(1.1))
	for _, part := range []float64{0.1, 1.49, 1.51} {
		if _, err := e.Swing(part * l.Drive()); err != nil {
			t.Fatal(err)
		}
	}
	var reaches []float64
	for _, f := range e.laws {
		if f.tolerance != 1e-9 {
			t.Errorf("a law of %g", f.tolerance)
		}
		reaches = append(reaches, f.reach/l.Drive())
	}
	if !slices.EqualFunc(reaches, []float64{1.5, 3}, func(a, b float64) bool { return math.Abs(a-b) < 1e-9 }) {
		t.Errorf("laws of %v times the drive", reaches)
	}
	reach := 1.5 * l.Drive()
	for tolerance, named := range map[float64]float64{1e-9: FigureTolerance, 1e-7: RenderTolerance} {
		got, err := e.Law(reach, named)
		if err != nil {
			t.Fatal(err)
		}
		want, err := shape.Fit(e.Biased().Transfer, -reach, reach, tolerance*reach)
		if err != nil {
			t.Fatal(err)
		}
		for i := range 101 {
			if x := reach * (float64(i)/50 - 1); got.At(x) != want.At(x) {
				t.Fatalf("law of %g: %g at %g V, fitted to %g: %g", named, got.At(x), x, tolerance, want.At(x))
			}
		}
	}
}

// Each device of an ideal class B stage takes 2/pi VCC i - i²R/2 of a sine of peak i, most
// where that peak is 2/pi of the rails (Sedra and Smith). Wherever between 0.4 and 1 of the
// drive the maximum lies, the parts that are looked at miss it by 1.25 % at most, from
// 0.5 on by 0.85 %.
func TestSinePartsHoldTheHottest(t *testing.T) {
	for i := range 601 {
		hottest, missed := 0.4+float64(i)/1000, 1.0
		for _, part := range sineParts {
			missed = min(missed, (part/hottest-1)*(part/hottest-1))
		}
		if most := map[bool]float64{true: 0.0125, false: 0.0085}[hottest < 0.5]; missed > most {
			t.Errorf("hottest at %g: missed by %g", hottest, missed)
		}
	}
	if !slices.Contains(sineParts, 2/math.Pi) {
		t.Error("the ideal pair's own is not looked at")
	}
	if last := sineParts[len(sineParts)-1]; last != 1 {
		t.Errorf("ends at %g of the drive", last)
	}
}

// THD is of 1 kHz and weighted THD of 400 Hz; IEC 60268-3 names 250 Hz and 8 kHz 4:1 for
// modulation, and 19 and 20 kHz for difference frequency.
func TestFrequenciesOfFigures(t *testing.T) {
	l, e := at(t, "pair-12w-feedback", stage.Quiescent(5e-3))
	simple, err := e.Simple(l.Drive())
	if err != nil {
		t.Fatal(err)
	}
	tones, err := e.Tones([]float64{1000, 400}, l.Drive())
	if err != nil {
		t.Fatal(err)
	}
	near(t, "THD", simple.THD, tones[0].THD, 1e-3)
	near(t, "weighted THD", simple.WeightedTHD, tones[1].WeightedTHD(), 1e-3)
	for k, want := range []int{30, 31, 32, 33, 34} {
		if modulationLines[k]*modulationBase != want*250 {
			t.Errorf("modulation reads %d Hz, want %d", modulationLines[k]*modulationBase, want*250)
		}
	}
	for k, want := range []int{1000, 18000, 19000, 20000, 21000} {
		if differenceLines[k]*differenceBase != want {
			t.Errorf("difference reads %d Hz, want %d", differenceLines[k]*differenceBase, want)
		}
	}
}

// A histogram's mean of a square is that of the samples to the width of a bin, and its
// profile has up to 128 shares.
func TestHistogramResolution(t *testing.T) {
	h := NewHistogram(-1, 1)
	n := 1 << 17
	x := make([]float64, n)
	for i := range x {
		x[i] = (float64(i)+0.5)*2/float64(n) - 1
	}
	h.Add(x)
	width := 2.0 / 8192
	missed := 1.0/3 - h.Mean(func(v float64) float64 { return v * v })
	near(t, "mean square missed by", missed, width*width/12, 0.02) // the variance within a bin
	if shares := len(h.Profile()); shares > 128 || shares < 120 {
		t.Errorf("%d shares", shares)
	}
}

// The square of IEC 60268-3, 14.12, has 3.15 kHz behind a corner of 30 kHz and four times
// the height of its sine of 15 kHz: odd harmonics up to the 31st, under 100 kHz, each by
// the Fourier series of a square and the response of one pole, in multiples of 150 Hz.
func TestSquareIsTheStandards(t *testing.T) {
	tones := squareTones(1)
	if len(tones) != 17 {
		t.Fatalf("%d tones, want 16 of the square and its sine", len(tones))
	}
	height, sine := math.Pi/4*tones[0].Peak*math.Hypot(1, 3150./30e3), tones[16]
	for i, tone := range tones[:16] {
		n := float64(2*i + 1)
		hertz := 150 * float64(tone.Order)
		near(t, "harmonic's frequency", hertz, n*3150, 1e-12)
		near(t, "harmonic", tone.Peak, height*4/(math.Pi*n)/math.Hypot(1, hertz/30e3), 1e-12)
	}
	near(t, "the sine's frequency", 150*float64(sine.Order), 15000, 1e-12)
	near(t, "square to sine", height/sine.Peak, 4, 1e-12)
	near(t, "the sum of both", height*4/math.Pi+sine.Peak, 1, 1e-12)
	// The products lie where multiples of 3.15 kHz mix with 15 kHz: |15 - 3.15 n| kHz, n from
	// 1 to 9; those of 19 and 20 kHz in the band at f2 - f1, 2(f2 - f1), 3f1 - 2f2 and 2f1 - f2.
	var mixed []int
	for n := range 9 {
		mixed = append(mixed, int(math.Round(math.Abs(15000-3150*float64(n+1))))/150)
	}
	slices.Sort(mixed)
	if !slices.Equal(squareProducts, mixed) || !slices.Equal(differenceProducts, []int{20 - 19, 2 * (20 - 19), 3*19 - 2*20, 2*19 - 20}) {
		t.Errorf("products %v, want %v, and %v", squareProducts, mixed, differenceProducts)
	}
	list, total := products([]float64{1, 1.1e-10, 0.9e-10, 0}, squareBase, []int{5, 16, 26})
	for i, want := range []float64{20 * math.Log10(1.1e-10), -200, -200} {
		near(t, "product", float64(list[i].Level), want, 1e-9)
	}
	near(t, "total", float64(total), 10*math.Log10(1.1e-10*1.1e-10+0.9e-10*0.9e-10), 1e-9)
	for i, want := range []float64{750, 2400, 3900} {
		near(t, "product's frequency", list[i].Frequency, want, 1e-12)
	}
}
