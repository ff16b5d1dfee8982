package fit

import (
	"math"
	"math/rand/v2"
	"slices"
	"testing"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"quietcross/stage"
)

// recovered returns a small model, its values at a current, and lines of two levels as
// another saturation current of one device makes them.
func recovered(t *testing.T, unequal float64) (*model, []float64, []Observation) {
	t.Helper()
	known := spec(t, "pair-12w")
	m, err := newModel(known, nil, 3)
	if err != nil {
		t.Fatal(err)
	}
	theta := m.start(heldAt(t, m, 0.05))
	var all []Observation
	for _, volts := range []float64{8, 2, 0.5} {
		o := Observation{Frequencies: []float64{1000}, Amplitudes: []float64{volts}}
		for n := 2; n <= 9; n++ {
			o.Lines = append(o.Lines, Line{N1: n})
		}
		all = append(all, o)
	}
	hidden := *m
	hidden.spec.Upper.Saturation *= unequal
	lines, err := hidden.predict(theta, all)
	if err != nil {
		t.Fatal(err)
	}
	for i := range all {
		for k := range all[i].Lines {
			all[i].Lines[k].Volts = lines[i][k]
		}
	}
	return m, theta, all
}

// heldAt returns the bias of a current.
func heldAt(t *testing.T, m *model, current float64) float64 {
	t.Helper()
	st, err := stage.New(m.spec)
	if err != nil {
		t.Fatal(err)
	}
	b, err := st.Set(stage.Held(current))
	if err != nil {
		t.Fatal(err)
	}
	return b.Point().Bias
}

// TestEdgesOfRivals: another minimum is a rival up to nine more in the sum of squares,
// which is three standard deviations of one value, and where its current differs by more
// than e^0.2.
func TestEdgesOfRivals(t *testing.T) {
	m, theta, _ := recovered(t, 1)
	for _, c := range []struct {
		apart, worse, misfit float64
		rival                bool
	}{
		{0.21, 0, 1, true},
		{0.19, 0, 1, false},
		{-0.21, 0, 1, true},
		{-0.19, 0, 1, false},
		{1, 8.9, 1, true},
		{1, 9.1, 1, false},
		{1, 8.9, 0.1, true},
		{1, 9.1, 0.1, false},
		{1, 35.9, 2, true},
		{1, 36.1, 2, false}, // in units of the misfit
	} {
		other := m.start(heldAt(t, m, 0.05*math.Exp(c.apart)))
		r := &Result{Misfit: c.misfit, Parameters: []Parameter{{}, {Key: quiescentKey, Value: 0.05, Low: 0.049, High: 0.051, Identified: true}}}
		r.rivals(m, []minimum{{theta: theta, sum: 5}, {theta: other, sum: 5 + c.worse}})
		if got := len(r.Statements) > 0; got != c.rival || r.Parameters[1].Identified == c.rival {
			t.Errorf("%+v: %q, %+v", c, r.Statements, r.Parameters[1])
		}
	}
}

// TestEdgesOfSuspicion: a value taken as true is suspected from a misfit of 1.5, and named
// if it explains a tenth of the sum of squares.
func TestEdgesOfSuspicion(t *testing.T) {
	m, theta, all := recovered(t, 1.5)
	for i := range all {
		for k := range all[i].Lines {
			all[i].Lines[k].Sigma = 0.1 // of more weight than the lines' own shares
		}
	}
	for misfit, suspected := range map[float64]bool{1.49: false, 1.51: true} {
		degrees := float64(countLines(all) - 1)
		got, err := m.result([]minimum{{theta: theta, sum: misfit * misfit * degrees}}, all)
		if err != nil || math.Abs(got.Misfit-misfit) > 1e-9 || (got.Suggestion != "") != suspected {
			t.Errorf("misfit %g: suggests %q, %v", misfit, got.Suggestion, err)
		}
	}
	r, _, err := m.misfit(theta, all)
	if err != nil {
		t.Fatal(err)
	}
	stray := make([]float64, len(r))
	source := rand.New(rand.NewPCG(5, 6))
	for i := range stray {
		stray[i] = source.NormFloat64() * floats.Norm(r, 2)
	}
	spans := derivatives(t, m, theta, all)
	explained := func(by float64) float64 { // the most that one value explains
		strayed, most := slices.Clone(r), 0.0
		floats.AddScaled(strayed, by, stray)
		for _, j := range spans {
			most = max(most, projected(j, strayed)/floats.Dot(strayed, strayed))
		}
		return most
	}
	for share, named := range map[float64]bool{0.11: true, 0.09: false} {
		low, high := 0.0, 1.0
		for range 50 {
			if middle := (low + high) / 2; explained(middle) > share {
				low = middle
			} else {
				high = middle
			}
		}
		moved, at := slices.Clone(all), 0
		for i := range moved {
			moved[i].Lines = slices.Clone(all[i].Lines)
			for k := range moved[i].Lines {
				moved[i].Lines[k].Volts -= low * stray[at] * uncertainty(all[i].Lines[k], all[i])
				at++
			}
		}
		if got := m.suggest(theta, moved); (got != "") != named {
			t.Errorf("a value explains %g: suggests %q", explained(low), got)
		}
	}
}

// derivatives returns those of the misfit by the bias and each value that is not free.
func derivatives(t *testing.T, m *model, theta []float64, all []Observation) []*mat.Dense {
	t.Helper()
	var spans []*mat.Dense
	for _, key := range m.others() {
		wider, err := newModel(m.spec, []string{key}, 3)
		if err != nil {
			continue
		}
		wide := wider.start(theta[0])
		r, _, err := wider.misfit(wide, all)
		if err != nil {
			t.Fatal(err)
		}
		if j, err := wider.jacobian(wide, r, all); err == nil {
			spans = append(spans, j)
		}
	}
	return spans
}

// projected returns how much of |r|² lies in the span of the columns of j, by their
// orthonormal basis.
func projected(j *mat.Dense, r []float64) float64 {
	_, columns := j.Dims()
	var basis [][]float64
	sum := 0.0
	for k := range columns {
		v := mat.Col(nil, k, j)
		for _, u := range basis {
			floats.AddScaled(v, -floats.Dot(u, v), u)
		}
		if norm := floats.Norm(v, 2); norm > 0 {
			floats.Scale(1/norm, v)
			basis = append(basis, v)
			sum += math.Pow(floats.Dot(v, r), 2)
		}
	}
	return sum
}
