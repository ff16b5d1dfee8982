package hearing

import "math"

// correlationEngine finds the maximum cross-correlation of two frames.
type correlationEngine struct {
	transformer *transformer
	padded      [frameLength]float64
	ref, test   [lineCount]complex128
	ear         [gammatoneBands]float64 // outer- and middle-ear gain of power
}

func newCorrelationEngine() correlationEngine {
	e := correlationEngine{transformer: newTransformer()}
	for b := range e.ear {
		e.ear[b] = outerEar(gammatoneCentre(b)).Power()
	}
	return e
}

// maximum returns the maximum normalised cross-correlation within the lags, 0
// where either frame is silent.
func (e *correlationEngine) maximum(ref, test *[correlationFrame]float64) float64 {
	norm := math.Sqrt(sumOfSquares(ref[:]) * sumOfSquares(test[:]))
	if norm == 0 {
		return 0
	}
	e.transform(&e.ref, ref)
	e.transform(&e.test, test)
	for i, c := range e.ref {
		e.test[i] *= conjugate(c)
	}
	e.transformer.inverse(&e.padded, &e.test)
	best := math.Inf(-1)
	for lag := range correlationLag + 1 {
		best = max(best, e.padded[lag], e.padded[(frameLength-lag)%frameLength])
	}
	return best / norm
}

// transform writes the spectrum of a frame, padded so that no lag wraps around.
func (e *correlationEngine) transform(dst *[lineCount]complex128, frame *[correlationFrame]float64) {
	copy(e.padded[:], frame[:])
	clear(e.padded[correlationFrame:])
	e.transformer.forward(dst, &e.padded)
}
