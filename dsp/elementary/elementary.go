// Package elementary holds the exponential function and what follows from it, the same to the
// last digit on each machine that does not fuse products into sums. The standard library has
// another one for each processor. A stage in time splits steps by last digits, by which the
// same stage in a browser and on a command line came to be -124 dB apart.
//
// e^x is 2^(n/32) from a table, times a Taylor series of what is left, which is at most
// ln 2/64.
package elementary

import (
	"math"
	"math/big"
)

const (
	expTable = 32
	// expHigh and expLow are ln 2/32 in two parts; whole numbers up to 2^15 times the first
	// are exact.
	expHigh = 0x1.62e42fee00000p-6
	expLow  = 0x1.a39ef35793c76p-38
	// maximumExp and minimumExp are where e^x is no longer a finite or a normal number.
	maximumExp = 709.78
	minimumExp = -708
)

// expHeads and expTails are 2^(i/32), rounded, and what the rounding left.
var expHeads, expTails = func() (heads, tails [expTable]float64) {
	const bits = 200
	root := big.NewFloat(2).SetPrec(bits)
	for range 5 {
		root.Sqrt(root)
	}
	power := big.NewFloat(1).SetPrec(bits)
	for i := range heads {
		heads[i], _ = power.Float64()
		tails[i], _ = new(big.Float).Sub(power, big.NewFloat(heads[i])).Float64()
		power.Mul(power, root)
	}
	return heads, tails
}()

// Exp returns e^x for any x, within 0.6 of a unit in the last place where that is a normal
// number.
func Exp(x float64) float64 {
	if !(x > minimumExp && x < maximumExp) {
		return math.Exp(x)
	}
	n := math.Floor(x*(expTable/math.Ln2) + 0.5)
	r := (x - n*expHigh) - n*expLow
	k := int(n)
	i := k & (expTable - 1)
	s := r * (1 + r*(1./2+r*(1./6+r*(1./24+r*(1./120+r*(1./720))))))
	scale := math.Float64frombits(uint64(1023+(k>>5)) << 52)
	return scale * (expHeads[i] + (expTails[i] + expHeads[i]*s))
}

// Log returns the natural logarithm of a positive finite x.
func Log(x float64) float64 {
	part, exponent := math.Frexp(x)
	if part < math.Sqrt2/2 {
		part, exponent = 2*part, exponent-1
	}
	return math.Log1p(part-1) + float64(exponent)*math.Ln2
}

// Pow returns a positive finite x to a power.
func Pow(x, exponent float64) float64 { return Exp(exponent * Log(x)) }

// Pow10 returns ten to a power; to a whole one it is as exact as [math.Pow].
func Pow10(exponent float64) float64 {
	whole := math.Round(exponent)
	if math.IsInf(exponent, 0) || math.IsNaN(exponent) || whole == exponent {
		return math.Pow(10, exponent)
	}
	return math.Pow(10, whole) * Exp((exponent-whole)*math.Ln10)
}
