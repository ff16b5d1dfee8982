package level_test

import (
	"fmt"
	"math"

	"quietcross/dsp/level"
)

// A stereo programme of a 1 kHz sine at -23 dBFS reads -23 LUFS (EBU Tech 3341).
func ExampleMeter() {
	const rate = 48000
	m := level.NewMeter(rate, 2)
	x := make([]float64, 5*rate)
	for i := range x {
		x[i] = level.DB(-23).Amplitude() * math.Sin(2*math.Pi*1000*float64(i)/rate)
	}
	m.Add([][]float64{x, x})
	loudness, _ := m.Integrated()
	fmt.Printf("%.1f LUFS, %.1f dBTP\n", loudness, m.TruePeak())
	// Output: -23.0 LUFS, -23.0 dBTP
}
