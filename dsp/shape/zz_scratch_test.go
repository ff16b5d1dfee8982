package shape_test

import (
	"fmt"
	"math"
	"math/cmplx"
	"os"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"

	"quietcross/dsp/shape"
)

func TestScratch(t *testing.T) {
	const vt = 25.85e-3
	pairs := map[string]pair{
		"bias0": biased(vt, .22, 8, 1e-13, 0),
		"1.2V":  biased(vt, .22, 8, 1e-13, 1.2),
		"opt":   {vt, .22, 8, vt / .22},
	}
	const rate = 48000
	const n = 1 << 15
	for _, name := range []string{"bias0", "1.2V", "opt"} {
		p := pairs[name]
		l, err := shape.Fit(p.law, -40, 40, tolFromEnv())
		if err != nil {
			t.Fatal(err)
		}
		fmt.Println(name, "iq", p.iq, "cells", l.Cells(), l.Deviation())
		for _, f := range []float64{1000, 5000, 10000} {
			cycles := int(f*n/rate) | 1
			for _, a := range []float64{25, 2.5, 0.8, 0.25, 0.025} {
				_ = cycles
				c := harmonics(func(x float64) float64 { y, _ := p.at(x); return y }, a, 25, 1<<16)
				for _, o := range []int{8} {
					r := shape.NewRoute([]*shape.Law{l}, o)
					x := tone(a, float64(cycles), n, 0)
					y := make([]float64, 2*n)
					r.Process([][]float64{y}, append(append([]float64{}, x...), x...))
					lat := r.Latency()
					y = y[n-0:]
					coef := fourier.NewFFT(n).Coefficients(nil, y)
					fund := math.Hypot(real(coef[cycles]), imag(coef[cycles]))
					worst := 0.0
					wi := 0
					sum, dist := 0.0, 0.0
					for k := 1; k < n*20/48; k++ {
						v := coef[k] * cmplx.Rect(2./n, 2*math.Pi*float64(k)*float64(lat)/n)
						if k%cycles == 0 {
							e := cmplx.Abs(v - complex(c[k/cycles], 0))
							sum += e * e
							if k/cycles > 1 {
								dist += c[k/cycles] * c[k/cycles]
							}
						} else if m := cmplx.Abs(v) * n / 2; m > worst {
							worst, wi = m, k
						}
					}
					fmt.Printf("%s f=%g a=%g o=%d lat=%d err %.1f dB; alias %.1f (%d) thd %.1f\n", name, f, a, o, lat,
						10*math.Log10(sum/(a*a)), 20*math.Log10(worst/fund), wi*48000/n, 10*math.Log10(dist/a/a))
				}
			}
		}
	}
}

func tolFromEnv() float64 {
	v := 4e-6
	fmt.Sscan(os.Getenv("TOL"), &v)
	return v
}
