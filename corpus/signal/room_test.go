package signal

import (
	"math"
	"testing"
)

// Each octave of a response decays in its stated time, by Schroeder's
// integration between −5 and −35 dB.
func TestRoomDecaysAsStated(t *testing.T) {
	r := room{decay: 2.4, high: 0.9, predelay: 0.019, wet: 0.3}
	for _, seed := range []uint64{1, 2, 3} {
		h := r.response(throw(seed, "test"))
		var energy float64
		for _, v := range h {
			energy += v * v
		}
		if math.Abs(energy-0.3) > 1e-12 {
			t.Errorf("energy %g", energy)
		}
		for band, x := range octaves(h[frame(0.1):]) {
			want := 2.4
			if above := float64(band - 3); above > 0 {
				want = 2.4 * math.Pow(0.9/2.4, above/3)
			}
			if got := decayTime(x, scoreRate, -5, -35); math.Abs(got/want-1) > 0.08 {
				t.Errorf("seed %d, octave %d: %.3f s, want %.3f", seed, band, got, want)
			}
		}
	}
}

func TestOctavesAddUp(t *testing.T) {
	x := throw(1, "test").white(4800)
	sum := make([]float64, len(x))
	for _, band := range octaves(x) {
		for i, v := range band {
			sum[i] += v
		}
	}
	for i := range x {
		if math.Abs(sum[i]-x[i]) > 1e-12 {
			t.Fatalf("sample %d: %g, want %g", i, sum[i], x[i])
		}
	}
}

func TestConvolveAgainstTheSum(t *testing.T) {
	x, h := throw(1, "x").white(300), throw(1, "h").white(70)
	clear(x[:5])
	y := convolve(x, h)
	for n := range x {
		var want float64
		for k := range min(n+1, len(h)) {
			want += h[k] * x[n-k]
		}
		if math.Abs(y[n]-want) > 1e-12 || n < 5 && y[n] != 0 {
			t.Fatalf("sample %d: %g, want %g", n, y[n], want)
		}
	}
}

// When the players have stopped, the hall alone is heard: 2.4 s as the piece
// states. A few partials only sound in it, so each ear by itself swings.
func TestChordLeavesTheStatedTail(t *testing.T) {
	x := must(t, "quiet-chord", scoreRate, 1)
	var mean float64
	for _, ear := range x {
		mean += decayTime(ear[frame(chordEnd+0.02):frame(11.9)], scoreRate, -5, -35) / 2
	}
	if math.Abs(mean/2.4-1) > 0.1 {
		t.Errorf("tail decays in %.2f s, want 2.4", mean)
	}
	if c := correlation(x[0][frame(9):frame(11)], x[1][frame(9):frame(11)]); math.Abs(c) > 0.4 {
		t.Errorf("the ears' tails correlate by %.2f", c)
	}
}

// correlation returns the normalised correlation of two signals without lag.
func correlation(a, b []float64) float64 {
	var ab float64
	for i := range a {
		ab += a[i] * b[i]
	}
	return ab / float64(len(a)) / (rms(a) * rms(b))
}
