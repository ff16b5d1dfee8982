package spectrum_test

import (
	"fmt"
	"math"

	"quietcross/dsp/spectrum"
)

// A half-scale sine on a line reads -6.02 dB.
func ExampleOf() {
	const n, rate = 4096, 48000
	x := make([]float64, n)
	for i := range x {
		x[i] = 0.5 * math.Sin(2*math.Pi*float64(85*i)/n)
	}
	s := spectrum.Of(x, rate, spectrum.BlackmanHarris4)
	fmt.Printf("%.1f Hz: %.2f dB\n", s.Frequency(85), s.Level(85))
	// Output: 996.1 Hz: -6.02 dB
}

// A stream is averaged block by block. The parabola reads a 1 kHz tone within a
// small part of the 47 Hz between the lines.
func ExampleAverage() {
	a := spectrum.NewAverage(48000, 1024, spectrum.Hann)
	block := make([]float64, 480)
	for range 100 {
		for i := range block {
			block[i] = math.Cos(2 * math.Pi * float64(i) / 48)
		}
		a.Add(block)
	}
	s, _ := a.Spectrum()
	_, hertz, _ := s.Strongest(20, 20000)
	fmt.Printf("%.0f Hz\n", hertz)
	// Output: 1001 Hz
}
