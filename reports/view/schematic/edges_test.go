package schematic

import (
	"testing"

	"quietcross/stage/drawing"
	"quietcross/stage/network"
	"quietcross/stage/quantity"
)

// What is written of a part changes at its ends: leakage under a nanoampere, rounding under
// a microvolt, conduction from a tenth of a milliampere (common practice), fractions of an
// ohm, and millifarads, which drawings give in microfarads (common practice).
func TestLabelsChangeAtTheirEnds(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{small(0.9e-9, "A"), "< 1\u00a0nA"},
		{small(-0.9e-9, "A"), "< 1\u00a0nA"},
		{small(1.1e-9, "A"), "1.10\u00a0nA"},
		{small(-1.1e-9, "A"), "−1.10\u00a0nA"},
		{signed(0.9e-6), "0\u00a0V"},
		{signed(-0.9e-6), "0\u00a0V"},
		{signed(1.1e-6), "+1.10\u00a0µV"},
		{signed(-1.1e-6), "−1.10\u00a0µV"},
		{partValue(0.011, quantity.Ohm), "0.011\u00a0Ω"},
		{partValue(0.0099, quantity.Ohm), "9.9\u00a0mΩ"},
		{partValue(0.99, quantity.Ohm), "0.99\u00a0Ω"},
		{partValue(1.1e-3, quantity.Farad), "1100\u00a0µF"},
		{partValue(0.9e-3, quantity.Farad), "900\u00a0µF"},
		{partValue(2.2e-3, quantity.Henry), "2.2\u00a0mH"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
	for current, want := range map[float64]bool{0.9e-4: false, 1.1e-4: true} {
		var f Figure
		f.Point.Devices = []network.Operation{{Name: "q", Current: current}}
		if got := f.conducts(drawing.Part{Kind: drawing.NPN, Device: "q"}); got != want {
			t.Errorf("%g A: conducts %v", current, got)
		}
	}
}
