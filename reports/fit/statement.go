package fit

import (
	"fmt"
	"math"
	"strconv"

	"gonum.org/v1/gonum/mat"

	"quietcross/stage/quantity"
)

// rivals notes other answers that explain the recording about as well.
func (r *Result) rivals(m *model, minima []minimum) {
	const apart = 0.2
	own := &r.Parameters[1]
	for _, other := range minima[1:] {
		scale := max(1, r.Misfit*r.Misfit)
		if other.sum > minima[0].sum+rivalSum*scale {
			break
		}
		current, _, err := m.quiescent(other.theta, nil)
		if err != nil || math.Abs(math.Log(current/own.Value)) < apart {
			continue
		}
		own.Identified = false
		own.Low, own.High = min(own.Low, current), max(own.High, current)
		r.Statements = append(r.Statements, fmt.Sprintf("a quiescent current of %s explains the recording about as well as %s",
			short(current, quantity.Ampere), short(own.Value, quantity.Ampere)))
	}
}

// state says in words what the numbers mean.
func (r *Result) state(m *model, covariance *mat.SymDense) {
	for _, p := range r.Parameters {
		if !p.Identified && r.Misfit <= explained {
			r.say("the recording does not fix %s: anything from %s to %s fits", p.Key, short(p.Low, p.Unit), short(p.High, p.Unit))
		}
	}
	if covariance == nil {
		r.say("the free values cannot all be told apart: fix some of them")
	} else {
		for i := range m.coordinates {
			for j := range i {
				c := covariance.At(i, j) / math.Sqrt(covariance.At(i, i)*covariance.At(j, j))
				if math.Abs(c) > oneFrom {
					r.say("%s and %s move together (correlation %.3f): the recording fixes one if the other is known", m.coordinates[j].key, m.coordinates[i].key, c)
				}
			}
		}
	}
	inPhase, quadrature, sigma := distorted(r.Observations)
	if quadrature > 0.2*inPhase && quadrature > 3*sigma {
		r.say("a part of the distortion, %.0f %%, is out of phase with the waveform: the circuit or the recording has memory that the model lacks", 100*quadrature/math.Hypot(inPhase, quadrature))
	}
	if inPhase < 3*sigma {
		r.say("the distortion hardly stands out of the noise: a cleaner recording or other levels would tell more")
	}
	if r.Misfit > explained {
		r.say("the fit is poor (%.2g times its uncertainty), so that nothing is fixed: the circuit, a fixed value or the volts of full scale may be wrong", r.Misfit)
	}
	if r.Suggestion != "" {
		r.say("of the values that were taken as true, %s is the likeliest to be wrong: measure it, or let it be fitted", r.Suggestion)
	}
	if n := related(r.Observations); n > 0 {
		r.say("the high tone is %d times the low one, so that high harmonics of one fall on products of both: 60 Hz and 7 kHz tell more", n)
	}
	if len(r.Observations) < 3 {
		r.say("recorded at %d levels only: crossover shows its shape across levels, so use a ladder of six or more", len(r.Observations))
	}
	r.say("all other values are those of the stage file and were not tested; the intervals hold only if they and the volts that full scale stands for are right")
}

func (r *Result) say(format string, a ...any) {
	r.Statements = append(r.Statements, fmt.Sprintf(format, a...))
}

// related returns the whole ratio of two recorded tones, 0 when there is none.
func related(all []Observation) int {
	for _, o := range all {
		if len(o.Frequencies) == 2 {
			ratio := o.Frequencies[1] / o.Frequencies[0]
			if whole := math.Round(ratio); math.Abs(ratio/whole-1) < 1e-3 {
				return int(whole)
			}
		}
	}
	return 0
}

// short writes a value with three significant digits.
func short(v float64, unit quantity.Unit) string {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 3, 64), 64)
	if err != nil {
		rounded = v // infinite
	}
	return quantity.Format(rounded, unit)
}
