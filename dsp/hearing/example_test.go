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
