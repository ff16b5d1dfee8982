package hearing

import (
	"math"
	"math/cmplx"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
)

// The transform is held against gonum's, which is general and slower; its inverse
// against itself.
func TestTransformAgreesWithGeneralOne(t *testing.T) {
	const tolerance = 1e-11 * 45 // rounding, over the root of the length
	frame := [frameLength]float64(noise(frameLength, 1, 7))
	var magnitudes [lineCount]float64
	var lines [lineCount]complex128
	x := newTransformer()
	x.magnitudes(&magnitudes, &frame, 3)
	x.forward(&lines, &frame)
	for k, want := range fourier.NewFFT(frameLength).Coefficients(nil, frame[:]) {
		if math.Abs(magnitudes[k]-3*cmplx.Abs(want)) > tolerance || cmplx.Abs(lines[k]-want) > tolerance {
			t.Fatalf("line %d: %g and %g, want %g", k, magnitudes[k], lines[k], want)
		}
	}
	var back [frameLength]float64
	x.inverse(&back, &lines)
	for n := range back {
		if math.Abs(back[n]-frame[n]) > tolerance {
			t.Fatalf("sample %d: %g, want %g", n, back[n], frame[n])
		}
	}
}

func BenchmarkTransform(b *testing.B) {
	frame := [frameLength]float64(noise(frameLength, 1, 7))
	var got [lineCount]float64
	b.Run("own", func(b *testing.B) {
		x := newTransformer()
		for b.Loop() {
			x.magnitudes(&got, &frame, 1)
		}
	})
	b.Run("general", func(b *testing.B) {
		fft, dst := fourier.NewFFT(frameLength), make([]complex128, lineCount)
		for b.Loop() {
			for k, c := range fft.Coefficients(dst, frame[:]) {
				got[k] = absolute(c)
			}
		}
	})
}
