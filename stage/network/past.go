package network

// What a step extrapolates from is the past of every quantity that is followed: what the
// stores hold, the watched voltage, the voltages that control the devices. All are at the
// same evenly spaced times, so that one polynomial's weights serve them all, in one pass
// over values that lie in a row.

const (
	// remembered is how many values a past goes back.
	remembered = 6
	// fitted is how many of them make the polynomial that is extrapolated, a quartic.
	fitted = 5
)

// past is the values of some quantities at the last evenly spaced times: those of the
// newest time first, and of each time in the order of the quantities. What comes next is
// extrapolated from the polynomials through them.
type past struct {
	count  int
	values []float64
	room   []float64 // what values lie in: they move a time towards its beginning with each push
}

// pushes is how many pushes go by from one move of the values to the next.
const pushes = 32

// newPast returns the past of quantities that have all been nothing.
func newPast(count int) past {
	p := past{count: count, room: make([]float64, (pushes+remembered)*count)}
	p.values = p.room[pushes*count:]
	return p
}

// newest returns the values at the newest time.
func (p *past) newest() []float64 { return p.values[:p.count] }

// at returns the values at one time, the newest being 0.
func (p *past) at(time int) []float64 { return p.values[time*p.count : (time+1)*p.count] }

// rest makes the past that of quantities that have not moved.
func (p *past) rest(values []float64) {
	for time := range remembered {
		copy(p.at(time), values)
	}
}

// push takes the next values.
func (p *past) push(values []float64) {
	n := p.count
	at := len(p.room) - cap(p.values) - n
	if at < 0 {
		at = (pushes - 1) * n
		copy(p.room[at+n:], p.values[:(remembered-1)*n])
	}
	p.values = p.room[at : at+remembered*n]
	copy(p.values[:n], values)
}

// extrapolate fills in the next values of the quartics through the past, of the quantities
// from the first to before the last.
func (p *past) extrapolate(next []float64, first, last int) {
	n := p.count
	v := p.values[:fitted*n]
	a, b, c, d, e := v[first:last], v[n+first:n+last], v[2*n+first:2*n+last], v[3*n+first:3*n+last], v[4*n+first:4*n+last]
	next = next[first:last]
	for i := range next {
		next[i] = 5*(a[i]-d[i]) - 10*(b[i]-c[i]) + e[i]
	}
}

// inParts gives a quantity the past of one of another with the spacing of the parts of a
// step, on the quartic through that of whole steps.
func (p *past) inParts(i int, whole *past, j int) {
	n, v := whole.count, whole.values[j:]
	a, b, c, d, e := v[0], v[n], v[2*n], v[3*n], v[4*n]
	p.values[i] = a
	at := i + p.count
	for time := range partsBack {
		w := &partsBack[time]
		p.values[at] = w[0]*a + w[1]*b + w[2]*c + w[3]*d + w[4]*e
		at += p.count
	}
}

// inSteps gives a quantity the past of one of another with the spacing of whole steps, on
// the parabola through the last three values of its parts alone: a kink before them is
// forgotten.
func (p *past) inSteps(i int, parts *past, j int) {
	n, v := parts.count, parts.values[j:]
	a, b, c := v[0], v[n], v[2*n]
	p.values[i] = a
	at := i + p.count
	for time := range stepsBack {
		w := &stepsBack[time]
		p.values[at] = w[0]*a + w[1]*b + w[2]*c
		at += p.count
	}
}

// allInSteps does so for all quantities, of another past of the same ones.
func (p *past) allInSteps(parts *past) {
	n := p.count
	v := parts.values[:3*n]
	a, b, c := v[:n], v[n:2*n], v[2*n:]
	copy(p.values, a)
	for time := range stepsBack {
		w := &stepsBack[time]
		to := p.at(time + 1)
		for i := range to {
			to[i] = w[0]*a[i] + w[1]*b[i] + w[2]*c[i]
		}
	}
}

// ringing returns by how much a quantity's newest value is off a parabola on which every
// other value is off by as much to the other side: a store's voltage may ring so from step
// to step under the trapezoidal rule, about devices that were turned off.
func (p *past) ringing(i int) float64 {
	n, v := p.count, p.values
	return (v[i] - v[i+3*n] - 3*(v[i+n]-v[i+2*n])) / 8
}

// bend returns what to add to a quantity's newest value so that the trapezoidal rule ends
// where it does.
func (p *past) bend(i int) float64 {
	n, v := p.count, p.values[i:]
	return bend[0]*v[0] + bend[1]*v[n] + bend[2]*v[2*n] + bend[4]*v[4*n] + bend[5]*v[5*n] // bend[3] is nothing
}

// partsBack and stepsBack hold the weights with which values at the last steps make
// those at the last parts, and the other way round.
var (
	partsBack [remembered - 1][fitted]float64
	stepsBack [remembered - 1][3]float64
)

func init() {
	for i, w := range weights(times(0, -1, fitted), times(-1.0/splitInto, -1.0/splitInto, remembered-1)) {
		copy(partsBack[i][:], w)
	}
	for i, w := range weights(times(0, -1.0/splitInto, 3), times(-1, -1, remembered-1)) {
		copy(stepsBack[i][:], w)
	}
}

// times returns count times, evenly spaced.
func times(first, spacing float64, count int) []float64 {
	list := make([]float64, count)
	for i := range list {
		list[i] = first + float64(i)*spacing
	}
	return list
}

// weights returns, for each time, the weights of values at the nodes in the
// polynomial through them (Lagrange).
func weights(nodes, times []float64) [][]float64 {
	all := make([][]float64, len(times))
	for i, x := range times {
		all[i] = make([]float64, len(nodes))
		for j, at := range nodes {
			all[i][j] = 1
			for k, other := range nodes {
				if k != j {
					all[i][j] *= (x - other) / (at - other)
				}
			}
		}
	}
	return all
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i, x := range a {
		sum += x * b[i]
	}
	return sum
}
