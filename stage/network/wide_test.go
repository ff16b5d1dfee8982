package network

import (
	"math"
	"math/big"
	"math/rand/v2"
	"testing"
)

// TestWide holds the arithmetic of twice the precision against the standard library's
// numbers of 400 bits, over eighty decades and where terms cancel.
func TestWide(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	draw := func() wide {
		size := math.Pow(10, 80*rng.Float64()-40)
		return exact(size*(2*rng.Float64()-1), 0x1p-54*size*(2*rng.Float64()-1))
	}
	worst := 0.0
	check := func(got wide, want *big.Float, scale float64) {
		off := new(big.Float).Sub(want, number(got))
		miss, _ := off.Float64()
		worst = max(worst, math.Abs(miss)/scale)
	}
	for range 10000 {
		a, b := draw(), draw()
		near := wide{-a.hi * (1 + 0x1p-40*rng.Float64()), a.lo}
		check(a.plus(b), new(big.Float).Add(number(a), number(b)), math.Abs(a.hi)+math.Abs(b.hi))
		check(a.minus(b), new(big.Float).Sub(number(a), number(b)), math.Abs(a.hi)+math.Abs(b.hi))
		sum := new(big.Float).Add(number(a), number(near))
		left, _ := sum.Float64()
		check(a.plus(near), sum, max(math.Abs(left), 0x1p-90*math.Abs(a.hi)))
		check(a.times(b), new(big.Float).Mul(number(a), number(b)), math.Abs(a.hi*b.hi))
		check(a.inverse(), new(big.Float).Quo(big.NewFloat(1).SetPrec(400), number(a)), math.Abs(1/a.hi))
	}
	// Li et al., ACM Trans. Math. Softw. 28:152 (2002), bound sum and product by a few
	// units of 2^-106 and 2^-102; from memory.
	if worst > 0x1p-100 {
		t.Errorf("error of %.3g, that is 2^%.1f", worst, math.Log2(worst))
	}
}

// number returns a wide number without rounding.
func number(a wide) *big.Float {
	sum := new(big.Float).SetPrec(400).SetFloat64(a.hi)
	return sum.Add(sum, big.NewFloat(a.lo))
}
