package resample_test

import (
	"fmt"

	"quietcross/dsp/resample"
)

// A pulse raised eight times and lowered again comes back after the sum of the
// two latencies, here a whole number of base-rate samples but for a few high-rate
// ones, which the caller pads.
func Example() {
	up, down := resample.NewUp(8), resample.NewDown(8)
	pad := (8 - (up.Latency()+down.Latency())%8) % 8
	delay := (up.Latency() + pad + down.Latency()) / 8

	x := make([]float64, 400)
	x[100] = 1
	high := make([]float64, pad+8*len(x))
	up.Process(high[pad:], x)
	y := make([]float64, len(x))
	down.Process(y, high[:8*len(x)])

	peak := 0
	for i := range y {
		if y[i] > y[peak] {
			peak = i
		}
	}
	fmt.Println(peak == 100+delay)
	// Output: true
}
