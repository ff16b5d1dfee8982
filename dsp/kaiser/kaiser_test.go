package kaiser

import (
	"math"
	"testing"
)

// Values from Abramowitz and Stegun, table 9.8 (from memory: I0(1), I0(5)).
func TestBesselI0(t *testing.T) {
	for _, c := range []struct{ x, want float64 }{{0, 1}, {1, 1.2660658777520084}, {5, 27.239871823604442}} {
		if got := BesselI0(c.x); math.Abs(got/c.want-1) > 1e-14 {
			t.Errorf("I0(%g) = %.16g, want %.16g", c.x, got, c.want)
		}
	}
}

func TestWindow(t *testing.T) {
	if Window(0, 8) != 1 || Window(1, 8) != 0 || Window(-1.5, 8) != 0 {
		t.Error("the window is not 1 in its middle and 0 from its ends on")
	}
	if got, want := Window(0.6, 5), BesselI0(4)/BesselI0(5); math.Abs(got-want) > 1e-15 {
		t.Errorf("at 0.6: %g, want %g", got, want)
	}
}

// The worked example of Oppenheim and Schafer, Discrete-Time Signal Processing,
// 7.5.3 (from memory): 60 dB and a transition of 0.2π, a tenth of the rate, give
// beta 5.653 and an order of 37.
func TestDesignFormulas(t *testing.T) {
	if got := Beta(60); math.Abs(got-5.653) > 5e-4 {
		t.Errorf("beta %g, want 5.653", got)
	}
	if got := math.Ceil(Span(60, 0.1)); got != 37 {
		t.Errorf("order %g, want 37", got)
	}
}

func TestSinc(t *testing.T) {
	for _, c := range []struct{ t, want float64 }{{0, 1}, {0.5, 2 / math.Pi}, {3, 0}} {
		if got := Sinc(c.t); math.Abs(got-c.want) > 1e-15 {
			t.Errorf("sinc(%g) = %g, want %g", c.t, got, c.want)
		}
	}
}
