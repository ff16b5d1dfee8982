package fir_test

import (
	"math"
	"testing"

	"quietcross/dsp/resample/fir"
	"quietcross/dsp/resample/streamtest"
)

func TestSymmetricContract(t *testing.T) {
	half := []float64{0.5, 0.25, -0.125, 0.0625, 0.3, 0.1}
	streamtest.Check(t, streamtest.Case{
		New: func() streamtest.Processor { return fir.NewSymmetric(half) },
		Dst: 1, Src: 1, Memory: 11, InPlace: true,
	})
	streamtest.Check(t, streamtest.Case{
		New: func() streamtest.Processor { return fir.NewSymmetric(half[:1]) },
		Dst: 1, Src: 1, Memory: 1, InPlace: true,
	})
}

func TestSymmetricPulse(t *testing.T) {
	half := []float64{2, 1, -3}
	f := fir.NewSymmetric(half)
	x := make([]float64, 12)
	x[4] = 1
	f.Process(x, x)
	for i, v := range x {
		want := 0.0
		if k := int(math.Abs(float64(i - 4 - f.Latency()))); k < len(half) {
			want = half[k]
		}
		if v != want {
			t.Errorf("sample %d is %g, want %g", i, v, want)
		}
	}
}
