package stage

import (
	"errors"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"quietcross/stage/circuits"
)

// The thermal loop gain is how much of a small temperature change comes back through the
// circuit. Each temperature of a stage moves the powers, and the powers keep up other
// temperatures: the derivatives of the ones by the others, taken as differences, are a
// matrix of at most three by three, whose eigenvalues are the gains of the loop's ways.

// loops notes the thermal loop gains at the present temperatures: of the eigenvalues of
// the derivatives of the temperatures that the powers keep up, by the temperatures that
// the powers are solved at, the real part that is largest in size. With the sink held,
// only the junctions move.
func (w *warming) loops(s *Settled) error {
	upper := func(t *circuits.Temperatures) *float64 { return &t.Upper }
	lower := func(t *circuits.Temperatures) *float64 { return &t.Lower }
	part := func(t *circuits.Temperatures) *float64 { return &t.Bias }
	junctions := []coordinate{upper, lower}
	if len(w.sides) == 1 {
		junctions = junctions[:1]
	}
	all, err := w.loop(append(slices.Clone(junctions), part), func(w *warming) circuits.Temperatures { return w.steady().Temperatures })
	if err != nil {
		return err
	}
	s.Feedback = all
	s.JunctionFeedback, err = w.loop(junctions, func(w *warming) circuits.Temperatures { return w.aboveSink(w.sink) })
	return err
}

// coordinate is one of a stage's temperatures.
type coordinate = func(*circuits.Temperatures) *float64

// loop returns the loop gain by way of some of the temperatures.
func (w *warming) loop(along []coordinate, keepUp func(*warming) circuits.Temperatures) (float64, error) {
	base := *w
	if err := base.solve(); err != nil {
		return 0, err
	}
	kept := keepUp(&base)
	jacobian := mat.NewDense(len(along), len(along), nil)
	for j, of := range along {
		moved := *w
		*of(&moved.t) += nudge
		if err := moved.solve(); err != nil {
			return 0, err
		}
		to := keepUp(&moved)
		for i, what := range along {
			jacobian.Set(i, j, (*what(&to)-*what(&kept))/nudge)
		}
	}
	var eigen mat.Eigen
	if !eigen.Factorize(jacobian, mat.EigenNone) {
		return 0, errors.New("the thermal loop gain has no solution")
	}
	gain := 0.0
	for _, v := range eigen.Values(nil) {
		if math.Abs(real(v)) > math.Abs(gain) {
			gain = real(v)
		}
	}
	return gain, nil
}
