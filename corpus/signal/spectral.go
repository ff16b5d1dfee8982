package signal

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// octaves splits x into roomBands signals that add up to it, the lowest
// and highest taking all that lies beyond. The edges are half cosines an octave
// wide on a logarithmic scale, with no phase shift.
func octaves(x []float64) [roomBands][]float64 {
	n := transformLength(len(x))
	fft := fourier.NewFFT(n)
	whole := fft.Coefficients(nil, fit(x, n))
	part := make([]complex128, len(whole))
	var bands [roomBands][]float64
	for b := range bands {
		for i, v := range whole {
			part[i] = v * complex(bandWeight(b, math.Log2(float64(i)*scoreRate/float64(n)/125))/float64(n), 0)
		}
		bands[b] = fft.Sequence(nil, part)[:len(x)]
	}
	return bands
}

// bandWeight returns the share of band in a component that lies octave octaves
// above the centre of band 0. The shares of one component add up to 1.
func bandWeight(band int, octave float64) float64 {
	octave = min(max(octave, 0), roomBands-1)
	return raisedCosine(1 - math.Abs(octave-float64(band)))
}

// convolve returns the first len(x) samples of x convolved with h, exactly zero
// until x begins.
func convolve(x, h []float64) []float64 {
	n := transformLength(len(x) + len(h))
	fft := fourier.NewFFT(n)
	a := fft.Coefficients(nil, fit(x, n))
	b := fft.Coefficients(nil, fit(h, n))
	for i := range a {
		a[i] *= b[i] / complex(float64(n), 0)
	}
	y := fft.Sequence(nil, a)[:len(x)]
	for i := 0; i < len(x) && x[i] == 0; i++ {
		y[i] = 0
	}
	return y
}

// transformLength returns the smallest length of at least n that has no factor
// above 5, for which a transform is quick.
func transformLength(n int) int {
	for ; ; n++ {
		rest := n
		for _, factor := range [...]int{2, 3, 5} {
			for rest%factor == 0 {
				rest /= factor
			}
		}
		if rest == 1 {
			return n
		}
	}
}
