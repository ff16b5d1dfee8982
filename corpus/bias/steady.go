package bias

import (
	"math/cmplx"
	"sync"

	"quietcross/stage"
)

// A circuit with memory answers each frequency differently: its coil, capacitors,
// transformers and loop are in the figures of a tone. They come from the periodic state
// of the solved circuit, which is kept for every input, so that going from level to
// level begins where the last one was.

// orders is how many orders of a tone are solved for at least: what lies beyond is less
// than a thousandth of the distortion of an ideal dead band.
const orders = 200

// steady keeps the solvers of one evaluation's periodic states, one for each shape of
// the input.
type steady struct {
	mu      sync.Mutex
	solvers map[inputShape]*steadySolver
}

// inputShape is the base frequency and the orders of an input's tones.
type inputShape struct {
	base          float64
	first, second int
}

type steadySolver struct {
	mu     sync.Mutex
	solver *stage.Periodic
}

// solve returns the periodic state of a stage under tones of a base frequency and hands
// it over while nobody else moves it on.
func (s *steady) solve(b *stage.Biased, base float64, read func(*stage.Steady), tones ...stage.Tone) error {
	key := inputShape{base: base, first: tones[0].Order}
	if len(tones) > 1 {
		key.second = tones[1].Order
	}
	s.mu.Lock()
	if s.solvers == nil {
		s.solvers = map[inputShape]*steadySolver{}
	}
	one, ok := s.solvers[key]
	if !ok {
		one = &steadySolver{}
		s.solvers[key] = one
	}
	s.mu.Unlock()
	one.mu.Lock()
	defer one.mu.Unlock()
	if one.solver == nil {
		solver, err := b.Periodic()
		if err != nil {
			return err
		}
		one.solver = solver
	}
	state, err := one.solver.Solve(base, tones...)
	if err != nil {
		return err
	}
	read(state)
	return nil
}

// steadyTone returns the figures of a tone in a circuit with memory.
func (e *Evaluation) steadyTone(hertz, peak float64) (Tone, error) {
	var lines []complex128
	most := max(orders, int(BandHigh/hertz))
	err := e.steady.solve(e.biased, hertz, func(s *stage.Steady) { lines = s.Harmonics(most) }, stage.Tone{Order: 1, Peak: peak})
	if err != nil {
		return Tone{}, err
	}
	return newTone(hertz, peak, lines), nil
}

// steadyTwoTone returns the intermodulation of a circuit with memory.
func (e *Evaluation) steadyTwoTone(peak float64) (TwoTone, error) {
	var t TwoTone
	err := e.steady.solve(e.biased, modulationBase, func(s *stage.Steady) { t.modulation(sizes(s, modulationLines)) },
		stage.Tone{Order: modulationFirst, Peak: modulationLowShare * peak},
		stage.Tone{Order: modulationOther, Peak: modulationHighShare * peak})
	if err != nil {
		return t, err
	}
	err = e.steady.solve(e.biased, differenceBase, func(s *stage.Steady) { t.difference(sizes(s, differenceLines)) },
		stage.Tone{Order: differenceFirst, Peak: differenceShare * peak},
		stage.Tone{Order: differenceOther, Peak: differenceShare * peak})
	return t, err
}

// sizes returns the sizes of lines, V.
func sizes(s *stage.Steady, orders []int) []float64 {
	var list []float64
	for _, line := range s.Lines(orders...) {
		list = append(list, cmplx.Abs(line))
	}
	return list
}
