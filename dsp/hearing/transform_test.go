package hearing

import (
	"math"
	"math/cmplx"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// The transform is held against gonum's, which is general and slower.
func TestMagnitudesAgreeWithGeneralTransform(t *testing.T) {
	frame := [frameLength]float64(noise(frameLength, 1, 7))
	var got [lineCount]float64
	var work [half]complex128
	magnitudes(&got, &frame, 3, &work)
	for k, c := range fourier.NewFFT(frameLength).Coefficients(nil, frame[:]) {
		if want := 3 * cmplx.Abs(c); math.Abs(got[k]-want) > 1e-11*math.Sqrt(frameLength) {
			t.Fatalf("line %d: %g, want %g", k, got[k], want)
		}
	}
}

func BenchmarkTransform(b *testing.B) {
	frame := [frameLength]float64(noise(frameLength, 1, 7))
	b.Run("own", func(b *testing.B) {
		var got [lineCount]float64
		var work [half]complex128
		for b.Loop() {
			magnitudes(&got, &frame, 1, &work)
		}
	})
	b.Run("general", func(b *testing.B) {
		fft, dst := fourier.NewFFT(frameLength), make([]complex128, lineCount)
		var got [lineCount]float64
		for b.Loop() {
			for k, c := range fft.Coefficients(dst, frame[:]) {
				got[k] = absolute(c)
			}
		}
	})
}
