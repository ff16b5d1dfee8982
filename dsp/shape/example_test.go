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

// A Route sends one signal through several laws, all with the same delay.
func ExampleRoute() {
	route := shape.NewRoute([]*shape.Law{shape.Linear(1), shape.Linear(0.5)}, 8)
	x := make([]float64, 400)
	x[100] = 1
	y := [][]float64{make([]float64, len(x)), make([]float64, len(x))}
	route.Process(y, x)
	at := 100 + route.Latency()
	fmt.Printf("%.3f\n", y[0][at]/y[1][at])
	// Output: 2.000
}
