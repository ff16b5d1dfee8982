package bs1387_test

import (
	"fmt"
	"log"
	"math"

	"quietcross/dsp/bs1387"
)

// A soft 440 Hz tone with a third harmonic of 1 %, and of 0.1 %, played so that a
// full-scale sine has 92 dB SPL.
func ExampleComparator() {
	for _, part := range []float64{0.01, 0.001} {
		c, err := bs1387.NewComparator(bs1387.Config{Rate: bs1387.Rate, Channels: 1})
		if err != nil {
			log.Fatal(err)
		}
		ref, test := make([]float64, bs1387.Rate), make([]float64, bs1387.Rate)
		for i := range ref {
			phase := 2 * math.Pi * 440 * float64(i) / bs1387.Rate
			ref[i] = 0.03 * math.Sin(phase)
			test[i] = ref[i] + part*0.03*math.Sin(3*phase)
		}
		c.Add([][]float64{ref}, [][]float64{test})
		fmt.Printf("%g: probability %.2f\n", part, c.Result().Detection)
	}
	// Output:
	// 0.01: probability 0.99
	// 0.001: probability 0.00
}
