package hearing

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// correlationEngine finds the greatest cross-correlation of two frames.
type correlationEngine struct {
	fft    *fourier.FFT
	padded [correlationSize]float64
	ref    [correlationSize/2 + 1]complex128
	test   [correlationSize/2 + 1]complex128
	ear    [gammatoneBands]float64 // outer- and middle-ear gain of power
}

func newCorrelationEngine() correlationEngine {
	e := correlationEngine{fft: fourier.NewFFT(correlationSize)}
	for b := range e.ear {
		e.ear[b] = outerEar(gammatoneCentre(b)).Power()
	}
	return e
}

// greatest returns the greatest normalised cross-correlation within the lags, 0
// where either frame is silent.
func (e *correlationEngine) greatest(ref, test *[correlationFrame]float64) float64 {
	norm := math.Sqrt(sumOfSquares(ref[:]) * sumOfSquares(test[:]))
	if norm == 0 {
		return 0
	}
	e.transform(&e.ref, ref)
	e.transform(&e.test, test)
	for i, c := range e.ref {
		e.test[i] *= complex(real(c), -imag(c))
	}
	e.fft.Sequence(e.padded[:], e.test[:])
	best := math.Inf(-1)
	for lag := range correlationLag + 1 {
		best = max(best, e.padded[lag], e.padded[(correlationSize-lag)%correlationSize])
	}
	return best / correlationSize / norm
}

func (e *correlationEngine) transform(dst *[correlationSize/2 + 1]complex128, frame *[correlationFrame]float64) {
	copy(e.padded[:], frame[:])
	clear(e.padded[correlationFrame:])
	e.fft.Coefficients(dst[:], e.padded[:])
}
