package resample_test

import (
	"fmt"
	"testing"

	"quietcross/dsp/resample"
	"quietcross/dsp/resample/streamtest"
)

func TestContract(t *testing.T) {
	for _, o := range factors {
		t.Run(fmt.Sprint("up ", o), func(t *testing.T) {
			streamtest.Check(t, streamtest.Case{
				New: func() streamtest.Processor { return resample.NewUp(o) },
				Dst: o, Src: 1, Memory: 120,
			})
		})
		t.Run(fmt.Sprint("down ", o), func(t *testing.T) {
			streamtest.Check(t, streamtest.Case{
				New: func() streamtest.Processor { return resample.NewDown(o) },
				Dst: 1, Src: o, Memory: 120,
			})
		})
	}
}

func TestOddFactorsPanic(t *testing.T) {
	for _, o := range []int{-1, 0, 3, 12, 64} {
		for name, make := range map[string]func(){
			"up":   func() { resample.NewUp(o) },
			"down": func() { resample.NewDown(o) },
		} {
			func() {
				defer func() {
					if recover() == nil {
						t.Errorf("%s: factor %d accepted", name, o)
					}
				}()
				make()
			}()
		}
	}
}
