package shape_test

import (
	"fmt"
	"math"

	"quietcross/dsp/shape"
)

// A law is fitted to any function with a slope.
func ExampleFit() {
	law, err := shape.Fit(func(x float64) (y, slope float64, err error) {
		y = math.Tanh(x)
		return y, 1 - y*y, nil
	}, -4, 4, 1e-7)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Printf("%.6f %.6f\n", law.At(0.5), law.Slope(0.5))
	// Output: 0.462117 0.786448
}

// One Source serves several laws, each with its Branch, all with the same delay.
func ExampleBranch() {
	const oversample = 8
	source := shape.NewSource(oversample)
	whole, half := shape.NewBranch(shape.Linear(1), oversample), shape.NewBranch(shape.Linear(0.5), oversample)
	x := make([]float64, 400)
	x[100] = 1
	high := make([]float64, len(x)*oversample)
	source.Process(high, x)
	y, z := make([]float64, len(x)), make([]float64, len(x))
	whole.Process(y, high)
	half.Process(z, high)
	at := 100 + shape.Latency(oversample)
	fmt.Printf("%.3f\n", y[at]/z[at])
	// Output: 2.000
}
