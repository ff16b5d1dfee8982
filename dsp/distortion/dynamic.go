package distortion

import (
	"fmt"
	"math"
	"slices"
)

// Nominal frequencies of the dynamic intermodulation signal, hertz.
const (
	squareHertz = 3150
	sineHertz   = 15000
)

// dynamicOrders are the nine products of the square (first) and the sine below
// it that IEC 60268-3 counts, nominally at 750, 2400, 3900, 5550, 7050, 8700,
// 10200, 11850 and 13350 Hz.
var dynamicOrders = [][]int{{5, -1}, {-4, 1}, {6, -1}, {-3, 1}, {7, -1}, {-2, 1}, {8, -1}, {-1, 1}, {9, -1}}

// Dynamic is what a record of the dynamic intermodulation signal holds.
type Dynamic struct {
	Square   Product   // the square's fundamental
	Sine     Product   // the reference
	Products []Product // the nine, ascending
	Warnings []string
}

// DynamicIntermodulation measures the signal of IEC 60268-3, 14.12.8: a 3.15 kHz
// square (low-passed) with a 15 kHz sine a quarter as high. Rate is in hertz and
// must hold the sine. The frequencies may be off by the clock of the recording,
// one part in a thousand.
func DynamicIntermodulation(x []float64, rate float64) (*Dynamic, error) {
	if rate < 2.1*sineHertz {
		return nil, fmt.Errorf("distortion: a rate of %g Hz cannot hold the 15 kHz sine of dynamic intermodulation", rate)
	}
	orders := [][]int{{1, 0}, {0, 1}}
	for n := 2; n <= MaxOrder; n++ {
		orders = append(orders, []int{n, 0})
	}
	s, err := solveTones(x, rate, []float64{squareHertz, sineHertz}, append(orders, dynamicOrders...))
	if err != nil {
		return nil, err
	}
	products := s.products(rate)
	d := &Dynamic{Square: products[0], Sine: products[1]}
	for _, p := range products[2:] {
		if p.N2 != 0 {
			d.Products = append(d.Products, p)
		}
	}
	if len(d.Products) != len(dynamicOrders) {
		return nil, fmt.Errorf("distortion: %d samples are too few to part the nine products", len(x))
	}
	slices.SortFunc(d.Products, func(a, b Product) int { return int(math.Round(a.Frequency - b.Frequency)) })
	if c := Clipping(x); c.Samples > 0 {
		d.Warnings = append(d.Warnings, c.String()+" (a square may look clipped by its nature)")
	}
	return d, nil
}

// Figure returns the root sum of squares of the nine products re the sine.
func (d *Dynamic) Figure() Figure {
	var parts []part
	for _, p := range d.Products {
		parts = append(parts, part{p.Amplitude, p.Sigma, 1})
	}
	return rootSum(parts, d.Sine.Amplitude)
}
