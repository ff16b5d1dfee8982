package inspect

import (
	"math"
	"testing"

	"quietcross/stage"
)

// The whole curve goes five percent beyond clipping, the near one two volts to either
// side, and powers from -36 dB up in steps of two.
func TestReaches(t *testing.T) {
	spec, err := stage.Lookup("pair-12w")
	if err != nil {
		t.Fatal(err)
	}
	l, err := Look(spec, []stage.Setting{stage.Bias(1.1)})
	if err != nil {
		t.Fatal(err)
	}
	r := l.Rungs[0]
	for _, c := range []struct {
		name      string
		got, want float64
	}{
		{"curve, low", r.Curve[0].In, 1.05 * r.ClipLow},
		{"curve, high", r.Curve[len(r.Curve)-1].In, 1.05 * r.ClipHigh},
		{"near, low", r.Near[0].In, -2},
		{"near, high", r.Near[len(r.Near)-1].In, 2},
		{"lowest power", r.Powers[0].Peak, l.Drive * math.Pow(10, -36.0/20)},
		{"next power", r.Powers[1].Peak, l.Drive * math.Pow(10, -34.0/20)},
		{"full power", r.Powers[len(r.Powers)-1].Peak, l.Drive},
	} {
		if math.Abs(c.got-c.want) > 1e-9*math.Abs(c.want) {
			t.Errorf("%s: %g V, want %g", c.name, c.got, c.want)
		}
	}
	for value, want := range map[float64]string{0.9e-6: "under 0.000001", -0.9e-6: "under 0.000001"} {
		if got := gain(value); got != want {
			t.Errorf("gain of %g: %q", value, got)
		}
	}
	if got := gain(1.1e-6); got == "under 0.000001" {
		t.Errorf("gain of 1.1e-6: %q", got)
	}
}
