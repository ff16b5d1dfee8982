package signal

import "quietcross/dsp/resample"

// scoreRate is the rate in hertz at which programme material is performed.
const scoreRate = 48000

// convert returns x, sampled at scoreRate, as frames samples at a legal rate.
// Sample n of the result stands at the same time n/rate as it would in x, without
// delay; before and after x is silence.
func convert(x []float64, rate, frames int) []float64 {
	if rate == scoreRate {
		return fit(x, frames)
	}
	converter, err := resample.NewConverter(scoreRate, rate)
	if err != nil {
		panic("signal: " + err.Error()) // Generate has checked the rate
	}
	return fit(converter.Flush(converter.Process(nil, x)), frames)
}

// fit returns x cut or filled with zeros to frames samples.
func fit(x []float64, frames int) []float64 {
	y := make([]float64, frames)
	copy(y, x)
	return y
}
