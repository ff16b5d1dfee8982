package bs1387

import (
	"math"
	"math/rand/v2"
	"testing"
)

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
