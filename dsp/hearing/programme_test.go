package hearing

import (
	"reflect"
	"testing"
)

// A programme heard once serves several tests as a comparison of its own would, however
// the stream is cut and though what was heard is overwritten.
func TestProgrammeServesManyTests(t *testing.T) {
	x := programme(48000, 1.1, 0.3)
	c := Config{Rate: 48000, Channels: 2, PlaybackSPL: 92, RoomNR: 15}
	var tests [3][][]float64
	var testers [3]*Tester
	for i := range tests {
		tests[i] = both(x, func(x []float64) []float64 { return deadZone(x, 1e-3*float64(1+i)) })
		var err error
		if testers[i], err = NewTester(c); err != nil {
			t.Fatal(err)
		}
	}
	p, err := NewProgramme(c)
	if err != nil {
		t.Fatal(err)
	}
	var heard Heard
	for from, size := 0, 1; from < len(x[0]); size = (7*size + 3) % 9001 {
		to := min(from+size, len(x[0]))
		p.Hear(&heard, [][]float64{x[0][from:to], x[1][from:to]})
		for i, y := range tests {
			testers[i].Compare(&heard, [][]float64{y[0][from:to], y[1][from:to]})
		}
		from = to
	}
	p.End(&heard)
	for i, y := range tests {
		want := compared(t, c, x, y, len(x[0]))
		if got := testers[i].Result(&heard); want.DPrime < 0.1 || !reflect.DeepEqual(got, want) {
			t.Errorf("test %d: d' %.17g, by itself %.17g", i, got.DPrime, want.DPrime)
		}
	}
}
