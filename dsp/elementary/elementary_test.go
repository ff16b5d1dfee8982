package elementary

import (
	"math"
	"math/big"
	"math/rand/v2"
	"runtime"
	"testing"
)

// bigExp returns e^x to 200 bits by its series, x halved until it converges at once.
func bigExp(x float64) *big.Float {
	const bits, halvings = 240, 20
	r := new(big.Float).SetPrec(bits).SetFloat64(x)
	r.SetMantExp(r, -halvings)
	sum, term := big.NewFloat(1).SetPrec(bits), big.NewFloat(1).SetPrec(bits)
	for i := 1; i < 40; i++ {
		term.Mul(term, r).Quo(term, big.NewFloat(float64(i)))
		sum.Add(sum, term)
	}
	for range halvings {
		sum.Mul(sum, sum)
	}
	return sum
}

// TestExp holds the exponential function to its series in 240 bits, in units of the last place.
func TestExp(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	worst := 0.0
	for range 20000 {
		x := (random.Float64() - 0.5) * math.Pow(10, random.Float64()*3)
		want := bigExp(x)
		got := Exp(x)
		near, _ := want.Float64()
		unit := math.Nextafter(near, math.Inf(1)) - near
		off, _ := new(big.Float).Sub(want, new(big.Float).SetFloat64(got)).Float64()
		worst = max(worst, math.Abs(off/unit))
	}
	t.Logf("worst %.3f units in the last place", worst)
	if worst > 0.6 {
		t.Errorf("%.3f units in the last place", worst)
	}
	for _, x := range []float64{0, math.Inf(1), math.Inf(-1), math.NaN(), 709.7, 709.79, -707.9, -708.1, -745, 1e-300} {
		if got, want := Exp(x), math.Exp(x); math.IsNaN(got) != math.IsNaN(want) || !math.IsNaN(want) && math.Abs(got-want) > 2e-16*want {
			t.Errorf("e^%g: %g, want %g", x, got, want)
		}
	}
}

// TestLog holds the logarithm and powers to the standard library's.
func TestLog(t *testing.T) {
	for _, x := range []float64{1e-300, 1e-18, 0.5, 0.7071, 0.70711, 0.999, 1, 1.001, 2, 300.15, 1e300} {
		if got, want := Log(x), math.Log(x); math.Abs(got-want) > 4e-16*math.Abs(want) {
			t.Errorf("ln %g: %g, want %g", x, got, want)
		}
		for _, e := range []float64{-1.5, 0, 0.3, 3} {
			if got, want := Pow(x, e), math.Pow(x, e); math.Abs(math.Log(x)*e) < 600 && math.Abs(got/want-1) > 1e-13 {
				t.Errorf("%g^%g: %g, want %g", x, e, got, want)
			}
		}
	}
}

// TestPow10 holds powers of ten, and so decibels, to the standard library's.
func TestPow10(t *testing.T) {
	for _, x := range []float64{-300, -6, -3, -0.3, 0, 0.05, 0.5, 1, 2.5, 20.499, 300, math.Inf(1), math.Inf(-1), math.NaN()} {
		got, want := Pow10(x), math.Pow(10, x)
		if whole := x == math.Round(x); whole && got != want || math.IsNaN(got) != math.IsNaN(want) || math.Abs(got-want) > 4e-16*want {
			t.Errorf("10^%g: %g, want %g", x, got, want)
		}
	}
}

// TestExpIsAlike: the digits are these on each machine that does not fuse products into sums.
func TestExpIsAlike(t *testing.T) {
	sum := uint64(0)
	for i := range 100000 {
		sum = sum*31 + math.Float64bits(Exp(float64(i)*0.0011-40))
	}
	// As amd64 and WebAssembly have them.
	if want := uint64(0x1fc9c3807f9bfdfc); sum != want && (runtime.GOARCH == "amd64" || runtime.GOARCH == "wasm") {
		t.Errorf("the digits add up to %#x, want %#x", sum, want)
	}
}

func BenchmarkExp(b *testing.B) {
	for name, f := range map[string]func(float64) float64{"own": Exp, "library": math.Exp} {
		b.Run(name, func(b *testing.B) {
			x, sum := -39.0, 0.0
			for b.Loop() {
				sum += f(x)
				if x += 0.013; x > 39 {
					x = -39
				}
			}
			_ = sum
		})
	}
}
