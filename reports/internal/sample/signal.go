package sample

import "math"

// signal makes the samples of one item.
type signal struct {
	tone   bool
	silent bool
	rate   float64
	frames int
}

const amplitude = 0.25

// reference is a sine, or a decaying chord.
func (s signal) reference() []float64 {
	x := make([]float64, s.frames)
	if s.silent {
		return x
	}
	for i := range x {
		t := float64(i) / s.rate
		if s.tone {
			x[i] = amplitude * math.Sin(2*math.Pi*ToneHertz*t)
			continue
		}
		for _, f := range []float64{220, 277.2, 329.6} {
			x[i] += amplitude / 3 * math.Exp(-t) * math.Sin(2*math.Pi*f*t)
		}
	}
	return x
}

// residual returns what a rung adds, and its fitted gain. For a tone it is that
// of an ideal dead band, by its Fourier series (Gelb and Vander Velde, Multiple-Input
// Describing Functions, 1968), orders 3 to 19; for a programme one line that
// follows the decay.
func (s signal) residual(reference []float64, rung int) (gain float64, y []float64) {
	r := DeadBand(rung)
	y = make([]float64, len(reference))
	if s.silent {
		return 1, y
	}
	if !s.tone {
		for i := range y {
			t := float64(i) / s.rate
			y[i] = 0.01 * r * math.Exp(-t) * math.Sin(2*math.Pi*ResidueHertz*t)
		}
		return 0.97, y
	}
	for n := 3; n <= 19; n += 2 {
		b := amplitude * Harmonic(r, n)
		step := 2 * math.Pi * ToneHertz * float64(n) / s.rate
		for i := range y {
			y[i] += b * math.Sin(step*float64(i))
		}
	}
	return Harmonic(r, 1), y
}

// Harmonic returns b_n/A of a sine of amplitude A through a dead band of depth
// r·A, n odd.
func Harmonic(r float64, n int) float64 {
	a := math.Asin(r)
	if n == 1 {
		return 1 - 2/math.Pi*(a+math.Sin(2*a)/2)
	}
	k := float64(n)
	return -2 / (math.Pi * k) * (math.Sin((k-1)*a)/(k-1) + math.Sin((k+1)*a)/(k+1))
}
