package shape

import (
	"math"
	"math/rand/v2"
	"testing"
)

// TestVectorsAgreeToTheBit follows a bent law by vectors of each width and in plain Go, over
// noise of sizes from much less than a cell to many, in blocks of every length about the
// window's.
func TestVectorsAgreeToTheBit(t *testing.T) {
	if !hasVectors {
		t.Skip("this processor has no such instructions")
	}
	t.Run("widest", vectorsAgree)
	if hasWide {
		hasWide = false
		defer func() { hasWide = true }()
		t.Run("in fours", vectorsAgree)
	}
}

func vectorsAgree(t *testing.T) {
	law, err := Fit(func(x float64) (float64, float64, error) {
		return math.Tanh(x) + 0.2*x, 0.2 + 1/(math.Cosh(x)*math.Cosh(x)), nil
	}, -6, 6, 1e-9)
	if err != nil {
		t.Fatal(err)
	}
	rng := rand.New(rand.NewPCG(7, 7))
	stayed := 0
	for _, size := range []float64{1e-3, 0.03, 0.3, 3, 10} {
		x := make([]float64, 20000)
		slow := 0.0
		for i := range x {
			slow += 0.05 * (rng.NormFloat64() - slow)
			x[i] = size * 6 * slow
		}
		x[7777] = math.Inf(1)
		fast, plain := NewShaper(law), NewShaper(law)
		for at := 0; at < len(x)-300; {
			n := 1 + rng.IntN(window)
			got, want := make([]float64, n), make([]float64, n)
			fast.Process(got, x[at:at+n])
			part := append(append([]float64{}, plain.past[:]...), x[at:at+n]...)
			var lanes parts
			stayed += stay(&lanes, 0, part, &law.cells[plain.at])
			plain.each(0, part)
			plain.parts.gatherPlain(want, 0)
			plain.parts.gather(make([]float64, n))
			copy(plain.past[:], part[n:])
			for i := range want {
				want[i] += law.rest
				if math.Float64bits(got[i]) != math.Float64bits(want[i]) && !(math.IsNaN(got[i]) && math.IsNaN(want[i])) {
					t.Fatalf("size %g, sample %d: %g by vectors, %g in plain Go", size, at+i, got[i], want[i])
				}
			}
			at += n
		}
	}
	if stayed < 1000 {
		t.Errorf("the vectors took %d samples of all", stayed)
	}
}
