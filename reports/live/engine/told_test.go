package engine

import (
	"reflect"
	"testing"
)

// TestPassedTravels: a block is the same after its way from worker to worker, and what
// is no block is refused.
func TestPassedTravels(t *testing.T) {
	mono := Passed{From: 1 << 40, Rate: 44100, Reach: 20.5, Reference: [][]float64{{1, 2}}, Out: []float64{3, 4}}
	stereo := Passed{From: 256, Rate: 96000, Reach: 1, Reference: [][]float64{{1, 2, 3}, {4, 5, 6}}, Out: []float64{7, 8, 9}}
	for _, want := range []Passed{mono, stereo} {
		got, err := PassedOf(want.Append(nil))
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Errorf("%v: %+v, want %+v", err, got, want)
		}
	}
	whole := stereo.Append(nil)
	for _, bad := range [][]float64{nil, whole[:3], whole[:len(whole)-1], {0, 48000, 1, 0, 1, 2}, {0, 48000, 1, 3, 1, 2, 3, 4}} {
		if b, err := PassedOf(bad); err == nil {
			t.Errorf("%v is taken for the block %+v", bad, b)
		}
	}
}
