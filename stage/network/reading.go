package network

// reading holds the coefficients that are not zero of one linear combination of
// active variables and sources.
type reading struct {
	active, source []term
}

// newReading takes the coefficients of a row in the order of a system's.
func newReading(row []float64, active int) reading {
	var r reading
	for i, c := range row {
		switch {
		case c == 0:
		case i < active:
			r.active = append(r.active, term{i, c})
		default:
			r.source = append(r.source, term{i - active, c})
		}
	}
	return r
}

func (r *reading) of(x, u []float64) float64 {
	sum := 0.0
	for _, c := range r.active {
		sum += c.value * x[c.at]
	}
	for _, c := range r.source {
		sum += c.value * u[c.at]
	}
	return sum
}

// readings prepares how the reactances of a solver are read.
func readings(s *Solver) []reading {
	rows := make([]reading, len(s.assembly.reactances))
	for i, r := range s.assembly.reactances {
		row := s.sys.combination(r.p, r.q)
		if r.inductive {
			row = s.sys.combination(r.branch, grounded)
		}
		rows[i] = newReading(row, s.sys.kept+s.sys.driven)
	}
	return rows
}
