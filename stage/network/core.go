package network

// coreOrder is the power of flux at which a saturating core's current departs from
// its inductance's.
const coreOrder = 8

// core puts a saturating inductance between two variables. Its flux linkage is a
// variable on a capacitance of one farad whose current is the winding's voltage, so
// that flux is the integral of voltage in time, holds still at midband, and settles
// at rest where the winding's direct current needs it.
func core(a *assembly, p, q int, henries, saturation float64) {
	flux := a.variable()
	rate := a.variable()
	a.currents[rate] = true
	a.entry(flux, rate, 1)
	a.entry(flux, p, -1)
	a.entry(flux, q, 1)
	a.storeOf(rate, flux, grounded, 1, false, false)
	a.reactances[len(a.reactances)-1].flux = &coreLaw{henries, saturation}
	a.loads = append(a.loads, &coreLoad{law: coreLaw{henries, saturation}, variable: [3]int{p, q, flux}})
}

// coreLaw is i = f/L (1 + (f/fs)^8) for a flux linkage f: a power series of two odd
// terms, as textbooks fit to a magnetising curve.
type coreLaw struct{ henries, saturation float64 }

// part returns (f/fs)^8.
func (c *coreLaw) part(flux float64) float64 {
	x := flux / c.saturation
	x *= x
	x *= x
	return x * x
}

// current returns the magnetising current and its derivative.
func (c *coreLaw) current(flux float64) (i, slope float64) {
	part := c.part(flux)
	return flux / c.henries * (1 + part), (1 + (coreOrder+1)*part) / c.henries
}

// energy returns what the core stores, the integral of current over flux.
func (c *coreLaw) energy(flux float64) float64 {
	part := c.part(flux)
	return flux * flux / c.henries * (0.5 + part/(coreOrder+2))
}

// coreLoad draws the magnetising current.
type coreLoad struct {
	law      coreLaw
	variable [3]int // winding's ends, flux
	p, q, f  int
}

func (c *coreLoad) terminals() []int { return c.variable[:] }

func (c *coreLoad) bind(index func(int) int) {
	c.p, c.q, c.f = index(c.variable[0]), index(c.variable[1]), index(c.variable[2])
}

func (c *coreLoad) reset() {}

func (c *coreLoad) stamp(s *stamper) bool {
	i, slope := c.law.current(s.x[c.f])
	s.current(c.p, c.q, i)
	s.transfer(c.p, c.q, c.f, s.stride-1, slope)
	return false
}
