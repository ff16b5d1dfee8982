package hearing_test

import (
	"fmt"
	"log"
	"math"

	"quietcross/dsp/hearing"
)

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

// A soft 440 Hz tone with a third harmonic of 1 %, and of 0.03 %, played so that a
// full-scale sine has 92 dB SPL.
func ExampleReference() {
	const rate = 48000
	ref, test := make([]float64, rate), make([]float64, rate)
	for i := range ref {
		ref[i] = 0.03 * math.Sin(2*math.Pi*440*float64(i)/rate)
	}
	r, err := hearing.NewReference(hearing.Config{Rate: rate, Channels: 1, PlaybackSPL: hearing.DefaultSPL}, [][]float64{ref})
	if err != nil {
		log.Fatal(err)
	}
	for _, part := range []float64{0.01, 0.0003} {
		for i := range test {
			test[i] = ref[i] + part*0.03*math.Sin(2*math.Pi*1320*float64(i)/rate)
		}
		heard := r.Compare([][]float64{test})
		fmt.Printf("%g: triangle %.2f right, strongest near %.1f kHz through %v\n",
			part, heard.Right[hearing.Triangle], heard.Strongest.Frequency/1000, heard.Strongest.Through)
	}
	// Output:
	// 0.01: triangle 1.00 right, strongest near 1.3 kHz through quiet
	// 0.0003: triangle 0.33 right, strongest near 1.3 kHz through quiet
}
