package resample_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"quietcross/dsp/resample"
)

// ratios are common ones, one to a row each; some with more places than rows; and
// the extremes.
var ratios = [][2]int{
	{44100, 48000},
	{48000, 44100},
	{96000, 48000},
	{48000, 96000},
	{88200, 48000},
	{22050, 48000},
	{11025, 48000},
	{192000, 44100},
	{48000, 48000},
	{47999, 48000},
	{48000, 44056},
	{383999, 8000},
	{384000, 8000},
	{8000, 384000},
	{8001, 383993},
}

func convert(t testing.TB, from, to int, x []float64) []float64 {
	t.Helper()
	c, err := resample.NewConverter(from, to)
	if err != nil {
		t.Fatal(err)
	}
	return c.Flush(c.Process(nil, x))
}

// TestConverterContinuesATone compares with the tone itself at the new rate, on
// its own time: ripple, images and delay at once.
func TestConverterContinuesATone(t *testing.T) {
	for _, r := range ratios {
		from, to := float64(r[0]), float64(r[1])
		lower := min(from, to)
		settle := int(60 * to / lower) // output samples
		frames := int(400 * from / lower)
		for _, part := range []float64{0, 0.03, 0.31, resample.PassEdge} {
			f := part * lower
			got := convert(t, r[0], r[1], sine(frames, f/from, -0.2*from/8000))
			want := sine(len(got), f/to, -0.2*to/8000)
			e := farthest(got[:len(got)-settle], want[:len(got)-settle], settle)
			if e > 1e-6 {
				t.Errorf("%d to %d, %g Hz: off by %.1f dB", r[0], r[1], f, 20*math.Log10(e))
			}
		}
	}
}

// TestConverterStopsWhatWouldFold sends tones above the band of a lower rate.
func TestConverterStopsWhatWouldFold(t *testing.T) {
	for _, r := range ratios {
		from, to := float64(r[0]), float64(r[1])
		if (1-resample.PassEdge)*to >= from/2 {
			continue
		}
		worst := 0.0
		for f := (1 - resample.PassEdge) * to; f < from/2; f += max(from/61, 0.0173*to) {
			got := convert(t, r[0], r[1], sine(int(250*from/to), f/from, 0.1))
			worst = max(worst, farthest(got[:len(got)-60], make([]float64, len(got)-60), 60))
		}
		t.Logf("%d to %d: %.1f dB", r[0], r[1], 20*math.Log10(worst))
		if worst > 1e-6 {
			t.Errorf("%d to %d: %.1f dB left", r[0], r[1], 20*math.Log10(worst))
		}
	}
}

func TestConverterDoesNotSeeTheBlocks(t *testing.T) {
	for _, r := range ratios[:12] {
		x := sine(3000, 0.0123, 0)
		want := convert(t, r[0], r[1], x)
		c, err := resample.NewConverter(r[0], r[1])
		if err != nil {
			t.Fatal(err)
		}
		rng := rand.New(rand.NewPCG(1, uint64(r[0])))
		for range 2 {
			var got []float64
			for at := 0; at < len(x); {
				end := min(len(x), at+rng.IntN(200))
				got = c.Process(got, x[at:end])
				at = end
			}
			if got = c.Flush(got); !slices.Equal(got, want) {
				t.Errorf("%d to %d: the output depends on the blocks", r[0], r[1])
			}
			c.Reset()
		}
	}
}

// TestConverterCounts: one output sample for every time before the end.
func TestConverterCounts(t *testing.T) {
	for _, r := range ratios {
		for _, n := range []int{0, 1, 2, 47, 160, 1000} {
			want := (n*r[1] + r[0] - 1) / r[0]
			if got := len(convert(t, r[0], r[1], make([]float64, n))); got != want {
				t.Errorf("%d to %d: %d samples become %d, want %d", r[0], r[1], n, got, want)
			}
		}
	}
}

func TestEqualRatesPassUnchanged(t *testing.T) {
	x := sine(500, 0.21, 0.4)
	if e := farthest(convert(t, 48000, 48000, x), x, 0); e > 1e-15 {
		t.Errorf("off by %g", e)
	}
}

func TestConverterRefusesRates(t *testing.T) {
	for _, r := range [][2]int{{0, 48000}, {48000, 0}, {7999, 48000}, {48000, 384001}, {-1, -1}} {
		if _, err := resample.NewConverter(r[0], r[1]); err == nil {
			t.Errorf("%d to %d accepted", r[0], r[1])
		}
	}
}

func TestConverterDoesNotGrow(t *testing.T) {
	c, err := resample.NewConverter(44100, 48000)
	if err != nil {
		t.Fatal(err)
	}
	x, y := make([]float64, 512), make([]float64, 0, 1024)
	c.Process(y, x)
	if n := testing.AllocsPerRun(100, func() { c.Process(y[:0], x) }); n != 0 {
		t.Errorf("%g allocations a block", n)
	}
}

// A second at 44.1 kHz becomes a second at 48 kHz.
func ExampleConverter() {
	c, err := resample.NewConverter(44100, 48000)
	if err != nil {
		fmt.Println(err)
		return
	}
	var y []float64
	block := make([]float64, 441)
	for range 100 {
		y = c.Process(y, block)
	}
	y = c.Flush(y)
	fmt.Println(len(y))
	// Output: 48000
}

func BenchmarkConverter(b *testing.B) {
	c, err := resample.NewConverter(44100, 48000)
	if err != nil {
		b.Fatal(err)
	}
	x, y := make([]float64, 4410), make([]float64, 0, 4900)
	for b.Loop() {
		y = c.Process(y[:0], x)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/4800, "ns/frame")
}
