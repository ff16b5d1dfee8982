package distortion

import (
	"fmt"
	"math"
	"math/cmplx"
	"slices"
)

// maxProductOrder is the highest |n1|+|n2| of a fitted product n1·f1 + n2·f2.
const maxProductOrder = 5

// TwoTones is what a record of two tones holds.
type TwoTones struct {
	Rate     float64
	Low      Product   // the tone of lower frequency, f1
	High     Product   // the tone of higher frequency, f2
	Products []Product // up to fifth order, below half the rate
	DC       float64
	Residual []float64 // the record less all of these
	Warnings []string
}

// Products2 measures two steady tones, near the given frequencies in hertz, and
// their products. Rate is in hertz. It returns an error when the record is silent,
// shorter than 12 cycles of the lower tone or of their difference, or does not
// hold the tones.
func Products2(x []float64, rate, low, high float64) (*TwoTones, error) {
	s, err := solveTones(x, rate, []float64{low, high}, productOrders())
	if err != nil {
		return nil, err
	}
	t := &TwoTones{Rate: rate, DC: s.dc, Residual: s.residual}
	products := s.products(rate)
	t.Low, t.High, t.Products = products[0], products[1], products[2:]
	if c := Clipping(x); c.Samples > 0 {
		t.Warnings = append(t.Warnings, c.String())
	}
	return t, nil
}

// productOrders lists n1, n2 up to the highest order, each frequency once: the
// tones first, then by order.
func productOrders() [][]int {
	orders := [][]int{{1, 0}, {0, 1}}
	for order := 2; order <= maxProductOrder; order++ {
		for n2 := order; n2 >= 0; n2-- {
			n1 := order - n2
			orders = append(orders, []int{n1, n2})
			if n1 > 0 && n2 > 0 {
				orders = append(orders, []int{-n1, n2})
			}
		}
	}
	return orders
}

// solveTones fits tones near given frequencies and the given combinations of
// them, less those that fall on another or out of band.
func solveTones(x []float64, rate float64, hertz []float64, orders [][]int) (*solution, error) {
	if err := checkSamples(x, rate); err != nil {
		return nil, err
	}
	if !slices.IsSorted(hertz) || !(hertz[0] > 0) || !(hertz[len(hertz)-1] < rate/2) {
		return nil, fmt.Errorf("distortion: tones at %.6g Hz, want ascending frequencies above 0 and below %g", hertz, rate/2)
	}
	m := &mixture{}
	reach := 8 * rate / float64(len(x))
	for i, f := range hertz {
		if gap := f - before(hertz, i); gap*float64(len(x))/rate < minCycles {
			return nil, fmt.Errorf("distortion: %d samples are too few to part the tone at %.6g Hz from what lies %.4g Hz below", len(x), f, gap)
		}
		found, err := strongest(x, rate, f*(1-1e-3)-reach, f*(1+1e-3)+reach)
		if err != nil {
			return nil, err
		}
		m.tones = append(m.tones, 2*math.Pi*found/rate)
	}
	m.orders = orders
	m.dropCoincident(2 * math.Pi * float64(fitWindow.HalfWidth()) / float64(len(x)))
	return m.checkedSolve(x)
}

func before(hertz []float64, i int) float64 {
	if i == 0 {
		return 0
	}
	return hertz[i-1]
}

// checkedSolve solves and checks that every tone stands out of the residual.
func (m *mixture) checkedSolve(x []float64) (*solution, error) {
	s, err := m.solve(x)
	if err != nil {
		return nil, err
	}
	noise := newNoise(s.residual, 1)
	for i, omega := range m.tones {
		if sigma := noise.sigma(omega/(2*math.Pi), s.record); !(cmplx.Abs(s.c[i]) > 10*sigma) {
			return nil, fmt.Errorf("%w: tone %d of %d does not stand out of the noise", errNotATone, i+1, len(m.tones))
		}
	}
	return s, nil
}

// dropCoincident removes lines that are closer than margin (radians a sample) to
// 0, half the rate or an earlier line: they cannot be told apart.
func (m *mixture) dropCoincident(margin float64) {
	omegas := m.omegas()
	var kept [][]int
	var at []float64
	for k, omega := range omegas {
		clear := omega > margin && omega < math.Pi-margin
		for _, other := range at {
			clear = clear && math.Abs(omega-other) > margin
		}
		if clear || k < len(m.tones) {
			kept, at = append(kept, m.orders[k]), append(at, omega)
		}
	}
	m.orders = kept
}

// parts returns the wanted products, and an error when one was not fitted.
func (t *TwoTones) parts(wanted ...[2]int) ([]part, error) {
	var parts []part
	for _, w := range wanted {
		i := slices.IndexFunc(t.Products, func(p Product) bool {
			return p.N1 == w[0] && p.N2 == w[1] || p.N1 == -w[0] && p.N2 == -w[1]
		})
		if i < 0 {
			return nil, fmt.Errorf("distortion: the product %d·%.6g %+d·%.6g Hz lies out of band or on another product",
				w[0], t.Low.Frequency, w[1], t.High.Frequency)
		}
		parts = append(parts, part{t.Products[i].Amplitude, t.Products[i].Sigma, 1})
	}
	return parts, nil
}

// Modulation returns modulation distortion of second or third order (IEC 60268-3,
// 14.12.9; order 2 or 3, it panics otherwise): the arithmetic sum of the two
// sidebands of the high tone, one or two low tones away, re the high tone. The
// usual tones are 250 Hz and 8 kHz, or 60 Hz and 7 kHz, at 4:1.
func (t *TwoTones) Modulation(order int) (Figure, error) {
	n := checkOrder(order) - 1
	parts, err := t.parts([2]int{n, 1}, [2]int{-n, 1})
	if err != nil {
		return Figure{}, err
	}
	return sum(parts, t.High.Amplitude), nil
}

// Difference returns difference-frequency distortion of second or third order
// (IEC 60268-3, 14.12.10; order 2 or 3, it panics otherwise) re the sum of the two
// tones' amplitudes: the product at f2-f1, or the arithmetic sum of those at
// 2f2-f1 and 2f1-f2.
func (t *TwoTones) Difference(order int) (Figure, error) {
	wanted := [][2]int{{-1, 1}}
	if checkOrder(order) == 3 {
		wanted = [][2]int{{-1, 2}, {2, -1}}
	}
	parts, err := t.parts(wanted...)
	if err != nil {
		return Figure{}, err
	}
	return sum(parts, t.Low.Amplitude+t.High.Amplitude), nil
}

// TotalDifference returns total difference-frequency distortion (IEC 60268-3,
// 14.12.11): the root sum of squares of the products at f2-f1 and 2f1-f2 re the
// sum of the two tones' amplitudes. The standard's tones are 8 and 11.95 kHz.
func (t *TwoTones) TotalDifference() (Figure, error) {
	parts, err := t.parts([2]int{-1, 1}, [2]int{2, -1})
	if err != nil {
		return Figure{}, err
	}
	return rootSum(parts, t.Low.Amplitude+t.High.Amplitude), nil
}

func checkOrder(order int) int {
	if order != 2 && order != 3 {
		panic(fmt.Sprintf("distortion: order %d, legal is 2 or 3", order))
	}
	return order
}
