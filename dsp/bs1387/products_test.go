package bs1387

import (
	"math"
	"testing"

	"quietcross/dsp/level"
)

func listed(t *testing.T, ref, test [][]float64) []Product {
	t.Helper()
	p, err := NewProducts(Config{Rate: Rate, Channels: len(ref)})
	if err != nil {
		t.Fatal(err)
	}
	p.Add(ref, test)
	list, dropped := p.List()
	if dropped != 0 {
		t.Errorf("%d products dropped", dropped)
	}
	return list
}

// A product of 40 dB SPL over silence is listed with its frequency, time and
// level; one under the threshold of hearing is not, nor one that a programme
// two thirds of a critical band away masks.
func TestProductsOverThresholdAndMask(t *testing.T) {
	silence := make([]float64, 2*Rate)
	test := make([]float64, 2*Rate)
	amplitude := level.DB(40 - 92).Amplitude()
	copy(test[Rate/2:Rate], sine(Rate/2, amplitude, 3000))
	list := listed(t, mono(silence), mono(test))
	if len(list) == 0 {
		t.Fatal("nothing listed")
	}
	strongest := list[0]
	for _, p := range list {
		if p.OverMask > strongest.OverMask {
			strongest = p
		}
	}
	near(t, "frequency", strongest.Frequency, 3000, 1)
	near(t, "start", strongest.Start, 0.5, 2*hopTime)
	near(t, "end", strongest.End, 1, 2*hopTime)
	near(t, "level", float64(strongest.Level), 40, 0.1)
	near(t, "over threshold", float64(strongest.OverThreshold), 40-float64(AbsoluteThreshold(3000)), 0.2)

	weak := sine(2*Rate, level.DB(-10-92).Amplitude(), 3000)
	if list := listed(t, mono(silence), mono(weak)); len(list) != 0 {
		t.Errorf("under the threshold: %+v", list)
	}
	loud := sine(2*Rate, 0.5, 2900)
	masked := plus(loud, amplitude, sine(2*Rate, 1, 3000))
	if list := listed(t, mono(loud), mono(masked)); len(list) != 0 {
		t.Errorf("under the mask: %+v", list)
	}
}

// A dead band makes odd harmonics (Gelb & Vander Velde's describing function has
// the odd orders only): what is listed of a 400 Hz tone lies on them.
func TestProductsOfADeadBand(t *testing.T) {
	x := sine(Rate, 0.03, 400)
	list := listed(t, mono(x), mono(deadBand(x, 0.003)))
	orders := map[int]bool{}
	for _, p := range list {
		order := math.Round(p.Frequency / 400)
		if math.Abs(p.Frequency-400*order) > 12 {
			continue // the onset, spread over all lines
		}
		orders[int(order)] = true
	}
	for _, n := range []int{3, 5, 7, 9} {
		if !orders[n] {
			t.Errorf("harmonic %d not listed: %+v", n, list)
		}
	}
	for _, n := range []int{2, 4, 6, 8} {
		if orders[n] {
			t.Errorf("harmonic %d listed", n)
		}
	}
}

// However many there are, the list is bounded, keeps the strongest and says how
// many it dropped.
func TestProductListIsBounded(t *testing.T) {
	p, err := NewProducts(Config{Rate: Rate, Channels: 1})
	if err != nil {
		t.Fatal(err)
	}
	for n := range 5 * productLimit {
		p.keep(0, []Product{{Frequency: 1000, Start: float64(n), OverMask: level.DB(n)}})
	}
	list, dropped := p.List()
	if len(list) != productLimit || dropped != 4*productLimit || list[0].OverMask != 4*productLimit {
		t.Errorf("%d products, %d dropped, first %+v", len(list), dropped, list[0])
	}
}
