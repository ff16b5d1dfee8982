package audibility

import (
	"math"
	"slices"
	"testing"

	"quietcross/dsp/resample"
)

// Twice the ear's rate is halved as the converter for any ratio does it: both are flat within
// 1e-6 in the band of the ear, without delay and of one length, however a stream is cut. A
// click of a few frames has more above that band than in it.
func TestHalvingIsConverting(t *testing.T) {
	for _, frames := range []int{0, 1, 2, 101, 9600, 9601} {
		x := make([]float64, frames)
		for i := range x {
			s := float64(i) / 96000
			for _, f := range []float64{61.3, 997.1, 7013.9, 15101.3, 19003.7} {
				x[i] += 0.1 * math.Sin(2*math.Pi*f*s+f) * math.Pow(math.Sin(math.Pi*float64(i)/float64(frames)), 2)
			}
		}
		general, err := resample.NewConverter(96000, EarRate)
		if err != nil {
			t.Fatal(err)
		}
		want := general.Flush(general.Process(nil, x))
		for _, size := range []int{1, 2, 7, 4096, 1 << 20} {
			c, err := NewEarConverter(96000)
			if err != nil {
				t.Fatal(err)
			}
			var got []float64
			for part := range slices.Chunk(x, size) {
				got = c.Process(got, part)
			}
			got = c.Flush(got)
			if len(got) != len(want) {
				t.Fatalf("%d frames by %d: %d, want %d", frames, size, len(got), len(want))
			}
			for i := range want {
				if frames >= 9600 && math.Abs(got[i]-want[i]) > 2e-6 {
					t.Fatalf("%d frames by %d: sample %d is %.9f, want %.9f", frames, size, i, got[i], want[i])
				}
			}
		}
	}
}
