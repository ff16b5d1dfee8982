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
	along := []coordinate{
		func(t *circuits.Temperatures) *float64 { return &t.Upper },
		func(t *circuits.Temperatures) *float64 { return &t.Lower },
		func(t *circuits.Temperatures) *float64 { return &t.Bias },
	}
	if len(w.sides) == 1 {
		along = slices.Delete(along, 1, 2)
	}
	free, held, err := w.answer(w.t)
	if err != nil {
		return err
	}
	all, junctions := loop{base: free, along: along}, loop{base: held, along: along[:len(along)-1]}
	for _, of := range along {
		t := w.t
		*of(&t) += nudge
		if free, held, err = w.answer(t); err != nil {
			return err
		}
		all.moved, junctions.moved = append(all.moved, free), append(junctions.moved, held)
	}
	if s.Feedback, err = all.gain(); err != nil {
		return err
	}
	s.JunctionFeedback, err = junctions.gain()
	return err
}

// answer returns the temperatures that the powers at some keep up, with the sink free and
// held.
func (w *warming) answer(t circuits.Temperatures) (free, held circuits.Temperatures, err error) {
	at := *w
	at.t = t
	if err := at.solve(); err != nil {
		return free, held, err
	}
	return at.steady().Temperatures, at.aboveSink(at.sink), nil
}

// coordinate is one of a stage's temperatures.
type coordinate = func(*circuits.Temperatures) *float64

// loop is a way of the heat by some of the temperatures: what the powers keep up, and what
// they do with each of these moved by a nudge.
type loop struct {
	along []coordinate
	base  circuits.Temperatures
	moved []circuits.Temperatures // one more than that may follow
}

// gain returns the loop's gain.
func (l *loop) gain() (float64, error) {
	jacobian := mat.NewDense(len(l.along), len(l.along), nil)
	for j := range l.along {
		for i, what := range l.along {
			jacobian.Set(i, j, (*what(&l.moved[j])-*what(&l.base))/nudge)
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
