package shape

import "math"

// antiderivatives are the first four repeated integrals of a law less its value
// at 0. All are 0 at x = 0, so that their rounding errors are in proportion
// to what they have grown to at x.
type antiderivatives struct{ first, second, third, fourth float64 }

// integral holds the antiderivatives over one cell: those at its middle, and the
// coefficients of the quintic divided as each integration does.
type integral struct {
	at                           antiderivatives
	grain                        float64 // rounding error of the fourth within the cell
	first, second, third, fourth [6]float64
}

func newIntegral(c *cell) integral {
	var in integral
	for k, v := range [6]float64{c.c0, c.c1, c.c2, c.c3, c.c4, c.c5} {
		n := float64(k)
		in.first[k] = v / (n + 1)
		in.second[k] = in.first[k] / (n + 2)
		in.third[k] = in.second[k] / (n + 3)
		in.fourth[k] = in.third[k] / (n + 4)
	}
	return in
}

// rise returns the repeated integrals from the middle to u.
func (in *integral) rise(u float64) antiderivatives {
	return antiderivatives{
		first:  u * horner(&in.first, u),
		second: u * u * horner(&in.second, u),
		third:  u * u * u * horner(&in.third, u),
		fourth: u * u * u * u * horner(&in.fourth, u),
	}
}

func horner(c *[6]float64, u float64) float64 {
	return c[0] + u*(c[1]+u*(c[2]+u*(c[3]+u*(c[4]+u*c[5]))))
}

// to returns the antiderivatives at u from the middle.
func (in *integral) to(u float64) antiderivatives {
	r := in.rise(u)
	return antiderivatives{
		first:  in.at.first + r.first,
		second: in.at.second + u*in.at.first + r.second,
		third:  in.at.third + u*(in.at.second+0.5*u*in.at.first) + r.third,
		fourth: in.at.fourth + u*(in.at.third+0.5*u*(in.at.second+u*in.at.first/3)) + r.fourth,
	}
}

// anchor sets the antiderivatives at the middle so that those at u are f.
func (in *integral) anchor(u float64, f antiderivatives) {
	r := in.rise(u)
	in.at.first = f.first - r.first
	in.at.second = f.second - u*in.at.first - r.second
	in.at.third = f.third - u*(in.at.second+0.5*u*in.at.first) - r.third
	in.at.fourth = f.fourth - u*(in.at.third+0.5*u*(in.at.second+u*in.at.first/3)) - r.fourth
}

// measure sets the grain of a cell with the given half width, or none.
func (in *integral) measure(half float64) {
	a := in.at
	in.grain = 0x1p-52 * (math.Abs(a.fourth) + half*(math.Abs(a.third)+half*(math.Abs(a.second)+half*(math.Abs(a.first)+half*math.Abs(in.fourth[0])))))
}

// integrate returns the integrals of the cells, the one called zero holding x = 0,
// outward from there.
func integrate(cells []cell, zero int) []integral {
	all := make([]integral, len(cells))
	for i := range cells {
		all[i] = newIntegral(&cells[i])
	}
	all[zero].anchor(-cells[zero].middle, antiderivatives{})
	for i := zero + 1; i < len(cells); i++ {
		k := cells[i].start()
		all[i].anchor(k-cells[i].middle, all[i-1].to(k-cells[i-1].middle))
	}
	for i := zero - 1; i >= 0; i-- {
		k := cells[i].end()
		all[i].anchor(k-cells[i].middle, all[i+1].to(k-cells[i+1].middle))
	}
	for i := range cells {
		all[i].measure(cells[i].half)
	}
	return all
}
