package shape_test

import "math"

// harmonics returns the cosine coefficients, orders 0 to count-1, of
// f(a·cos θ), by the trapezium rule at points angles around the circle (which
// converges geometrically for a smooth periodic function).
func harmonics(f func(float64) float64, a float64, count, points int) []float64 {
	c := make([]float64, count)
	for i := range points/2 + 1 {
		weight := 2.0
		if i == 0 || i == points/2 {
			weight = 1
		}
		theta := 2 * math.Pi * float64(i) / float64(points)
		v := weight * f(a*math.Cos(theta))
		for k := range c {
			c[k] += v * math.Cos(2*math.Pi*float64(i*k%points)/float64(points))
		}
	}
	for k := range c {
		c[k] *= 2 / float64(points)
	}
	c[0] /= 2
	return c
}

// tone fills n samples with a·cos(2πcycles·(i-delay)/n).
func tone(a, cycles float64, n int, delay float64) []float64 {
	x := make([]float64, n)
	for i := range x {
		x[i] = a * math.Cos(2*math.Pi*cycles*(float64(i)-delay)/float64(n))
	}
	return x
}

// synthesis adds up the harmonics below half the rate of a tone of the given
// number of cycles in n samples.
func synthesis(c []float64, cycles, n int) []float64 {
	y := make([]float64, n)
	for i := range y {
		for k := 0; k < len(c) && 2*k*cycles < n; k++ {
			y[i] += c[k] * math.Cos(2*math.Pi*float64(k*cycles%n*i%n)/float64(n))
		}
	}
	return y
}
