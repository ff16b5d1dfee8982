package hearing_test

import (
	"fmt"
	"log"
	"math"

	"quietcross/dsp/hearing"
)

// A soft 440 Hz tone with a third harmonic of 1 %, and of 0.1 %, played so that a
// full-scale sine has 92 dB SPL.
func ExampleComparator() {
	for _, part := range []float64{0.01, 0.001} {
		c, err := hearing.NewComparator(hearing.Config{Rate: hearing.Rate, Channels: 1})
		if err != nil {
			log.Fatal(err)
		}
		ref, test := make([]float64, hearing.Rate), make([]float64, hearing.Rate)
		for i := range ref {
			phase := 2 * math.Pi * 440 * float64(i) / hearing.Rate
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

// A stage that reaches 20 V peak into 8 ohm at full scale, a loudspeaker of 86 dB
// at 1 W and 1 m, and a listener 2.5 m away.
func ExampleSPL() {
	spl, err := hearing.SPL(20/math.Sqrt2, 8, 86, 2.5)
	if err != nil {
		log.Fatal(err)
	}
	fmt.Printf("%.1f dB SPL\n", float64(spl))
	// Output: 92.0 dB SPL
}
