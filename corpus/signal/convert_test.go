package signal

import (
	"fmt"
	"math"
	"testing"
)

// A sine within the pass band arrives at the other rate as that same sine, in
// time, and one above the stop band does not arrive.
func TestConvertAgainstTheSineItself(t *testing.T) {
	for _, rate := range []int{8000, 11025, 44099, 96000, 384000} {
		lower := float64(min(rate, scoreRate))
		for _, share := range []float64{0.01, 0.25, 0.449} {
			f := share * lower
			if e := convertError(rate, f, 1); e > -118 {
				t.Errorf("%d Hz, tone at %.3f of the lower rate: error %.1f dB", rate, share, e)
			}
		}
		if rate < scoreRate {
			if e := convertError(rate, 0.502*lower, 0); e > -118 {
				t.Errorf("%d Hz, tone at 0.502: leaks %.1f dB", rate, e)
			}
		}
	}
}

// convertError returns the greatest error in dB, away from the ends, of a unit
// sine of f hertz against gain times the sine.
func convertError(rate int, f, gain float64) float64 {
	x := make([]float64, scoreRate/10)
	for i := range x {
		x[i] = math.Sin(2 * math.Pi * f * float64(i) / scoreRate)
	}
	y := convert(x, rate, rate/10)
	var worst float64
	for n := rate / 40; n < rate*3/40; n++ {
		want := gain * math.Sin(2*math.Pi*f*float64(n)/float64(rate))
		worst = max(worst, math.Abs(y[n]-want))
	}
	return db(worst)
}

// Values from Abramowitz & Stegun, table 9.8 (from memory: I0(1), I0(5)).
func TestBesselI0(t *testing.T) {
	for _, c := range []struct{ x, want float64 }{{0, 1}, {1, 1.2660658777520084}, {5, 27.239871823604442}} {
		if got := besselI0(c.x); math.Abs(got/c.want-1) > 1e-14 {
			t.Errorf("I0(%g) = %.16g, want %.16g", c.x, got, c.want)
		}
	}
}

func ExampleMaterial_Generate() {
	m, err := Lookup("soft-speech")
	if err != nil {
		fmt.Println(err)
		return
	}
	x, err := m.Generate(44100, 1)
	if err != nil {
		fmt.Println(err)
		return
	}
	fmt.Println(m.Title, len(x), len(x[0]))
	// Output: Soft speech in nonsense syllables 1 396900
}

func ExampleMaterial_At() {
	m, err := Lookup("aes17-997")
	if err != nil {
		fmt.Println(err)
		return
	}
	m, err = m.At(-20)
	fmt.Println(m.Tones[0].Level, err)
	_, err = m.At(6)
	fmt.Println(err)
	// Output:
	// -20 <nil>
	// peak level 6 dBFS: want -140 to 0
}
