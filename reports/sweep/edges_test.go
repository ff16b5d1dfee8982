package sweep

import (
	"slices"
	"strings"
	"testing"

	"quietcross/dsp/level"
)

// The defaults are those that are documented.
func TestDefaults(t *testing.T) {
	o := DefaultOptions(builtin(t))
	if !slices.Equal(o.Frequencies, []float64{20, 1000, 6000}) || o.Workers != 2 {
		t.Errorf("%v Hz, %d workers", o.Frequencies, o.Workers)
	}
	for i, l := range o.Levels {
		if l != level.DB(-2*i) {
			t.Errorf("level %d is %g dB", i, float64(l))
		}
	}
	if len(o.Levels) != 31 {
		t.Errorf("%d levels", len(o.Levels))
	}
}

// What lies below a hundred-billionth of the fundamental is rounding.
func TestRounding(t *testing.T) {
	if a, b := percent(0.9e-11), percent(0); a != b {
		t.Errorf("%q, and nothing is %q", a, b)
	}
	if got := percent(1.1e-11); !strings.Contains(got, "1.10") {
		t.Errorf("1.1e-11 is %q", got)
	}
}
