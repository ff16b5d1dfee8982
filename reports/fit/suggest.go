package fit

import (
	"slices"

	"gonum.org/v1/gonum/mat"

	"quietcross/stage/circuits"
)

// suspicious is the misfit from which a value taken as true is suspected.
const suspicious = 1.5

// suggest returns the key of the value that, were it free too, would take most off
// the sum of squares, by the linearised problem; empty when none would take a
// tenth.
func (m *model) suggest(theta []float64, all []Observation) string {
	r, sum, err := m.misfit(theta, all)
	if err != nil {
		return ""
	}
	best, most := "", 0.1*sum
	for _, key := range m.others() {
		wider, err := newModel(m.spec, append(m.freeKeys(), key), m.coordinates[0].high)
		if err != nil {
			continue // it is 0, or no number
		}
		wide := append(slices.Clone(theta), wider.start(0)[len(theta)])
		j, err := wider.jacobian(wide, r, all)
		if err != nil {
			continue
		}
		if gain := reduction(j, r); gain > most {
			best, most = key, gain
		}
	}
	return best
}

func (m *model) freeKeys() []string {
	var keys []string
	for _, c := range m.coordinates[1:] {
		keys = append(keys, c.key)
	}
	return keys
}

// others returns the keys of the circuit's values that are not free.
func (m *model) others() []string {
	kind, err := circuits.Lookup(m.spec.Circuit)
	if err != nil {
		return nil
	}
	var keys []string
	for _, g := range kind.Groups(&m.spec.Parts) {
		if g.Absent() || g.Name == "bias" || g.Name == "diode" || g.Name == "thermal" {
			continue // not there, replaced by the ideal bias, or no value of the signal path
		}
		for _, f := range g.Fields {
			if key := g.Name + "." + f.Key; !slices.Contains(m.freeKeys(), key) {
				keys = append(keys, key)
			}
		}
	}
	return keys
}

// reduction returns how much of |r|² the columns of j explain.
func reduction(j *mat.Dense, r []float64) float64 {
	normal, gradient := normalEquations(j, r)
	n, _ := normal.Dims()
	for k := range n {
		normal.SetSym(k, k, normal.At(k, k)*(1+1e-9)+1e-12)
	}
	var chol mat.Cholesky
	if !chol.Factorize(normal) {
		return 0
	}
	var d mat.VecDense
	if err := chol.SolveVecTo(&d, gradient); err != nil {
		return 0
	}
	return mat.Dot(&d, gradient)
}
