package distortion

import (
	"math"

	"quietcross/dsp/level"
)

// Figure is a ratio of amplitudes with what is known of its error.
type Figure struct {
	Value float64 // 0.01 is one percent
	// Sigma is the standard uncertainty of Value from the noise of the record.
	Sigma float64
	// Floor is what the noise alone would read: a Value near it says only that
	// the true one is not much greater.
	Floor float64
}

// Level returns the value in dB.
func (f Figure) Level() level.DB { return level.FromAmplitude(f.Value) }

// Resolved reports whether the value stands clear of what noise alone reads.
func (f Figure) Resolved() bool { return f.Value > 2*f.Floor && f.Value > 3*f.Sigma }

// part is one term of a root of summed squares: the magnitude of a fitted
// amplitude, the standard uncertainty of its real and imaginary parts, and the
// factor it is weighted with.
type part struct{ amplitude, sigma, weight float64 }

// rootSum returns √Σ(weight·amplitude)² over reference as a figure.
func rootSum(parts []part, reference float64) Figure {
	var sum, spread, floor float64
	for _, p := range parts {
		a, s := p.amplitude*p.weight, p.sigma*p.weight
		sum += a * a
		floor += 2 * s * s
		// The variance of |a+n|², n complex Gaussian: 4a²s² + 4s⁴.
		spread += 4*a*a*s*s + 4*s*s*s*s
	}
	f := Figure{Value: math.Sqrt(sum) / reference, Floor: math.Sqrt(floor) / reference}
	if sum > 0 {
		f.Sigma = min(math.Sqrt(spread)/(2*math.Sqrt(sum)), math.Sqrt(floor)) / reference
	}
	return f
}

// sum returns Σ weight·amplitude over reference as a figure: the arithmetic sum
// that the intermodulation measures of IEC 60268-3 take.
func sum(parts []part, reference float64) Figure {
	var f Figure
	for _, p := range parts {
		f.Value += p.amplitude * p.weight / reference
		// The mean magnitude of complex Gaussian noise is s√(π/2).
		f.Floor += p.sigma * p.weight * math.Sqrt(math.Pi/2) / reference
		f.Sigma = math.Hypot(f.Sigma, p.sigma*p.weight/reference)
	}
	return f
}
