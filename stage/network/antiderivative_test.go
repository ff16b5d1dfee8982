package network

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/mat"
)

// meanFlow is how a rule takes a junction's mean current over a step from its voltages
// at both ends.
type meanFlow func(p handPair, from, to float64) float64

func byTrapezoid(p handPair, from, to float64) float64 {
	return (p.junction(from) + p.junction(to)) / 2
}

// byAntiderivative is the discrete gradient (M. Holters, Applied Sciences 10(1):20,
// 2020).
func byAntiderivative(p handPair, from, to float64) float64 {
	if math.Abs(to-from) < 1e-6 {
		return byTrapezoid(p, from, to)
	}
	integral := func(v float64) float64 { return p.is * (p.vt*math.Exp(v/p.vt) - v) }
	return (integral(to) - integral(from)) / (to - from)
}

func (p handPair) junction(v float64) float64 { return p.is * math.Expm1(v/p.vt) }

// unsplit is the pair into a resistor, of whole steps alone: its unknowns are the two
// emitters and the output, V.
type unsplit struct {
	pair handPair
	ohms float64
	mean meanFlow
}

func (u unsplit) at(in float64) [3]float64 {
	p := u.pair
	out := p.output(in, func(out float64) float64 { return out / u.ohms })
	return [3]float64{out + p.re*p.branch(in+p.bias/2-out), out - p.re*p.branch(out-in+p.bias/2), out}
}

// step solves for the unknowns at the end of a step by Newton's method, the Jacobian by
// differences, from where they would be without one.
func (u unsplit) step(from [3]float64, in0, in1 float64) [3]float64 {
	p := u.pair
	rest := func(x [3]float64) [3]float64 {
		upper := u.mean(p, in0+p.bias/2-from[0], in1+p.bias/2-x[0])
		lower := u.mean(p, from[1]-in0+p.bias/2, x[1]-in1+p.bias/2)
		out := (x[2] + from[2]) / 2
		i, j := ((x[0]+from[0])/2-out)/p.re, (out-(x[1]+from[1])/2)/p.re
		return [3]float64{upper - i, lower - j, i - j - out/u.ohms}
	}
	x := u.at(in1)
	for range 60 {
		r := rest(x)
		jacobian := mat.NewDense(3, 3, nil)
		for j := range x {
			moved := x
			moved[j] += 1e-9
			for i, v := range rest(moved) {
				jacobian.Set(i, j, (v-r[i])/1e-9)
			}
		}
		var move mat.VecDense
		if move.SolveVec(jacobian, mat.NewVecDense(3, r[:])) != nil {
			break
		}
		worst := 0.0
		for i := range x {
			d := max(-0.1, min(0.1, move.AtVec(i)))
			x[i] -= d
			worst = max(worst, math.Abs(d))
		}
		if worst < 1e-10 {
			break
		}
	}
	return x
}

// error returns the maximum line of the error of a tone's mean over each step, up to the
// band's edge, in dB re the tone.
func (u unsplit) error(hertz float64, d delivery) float64 {
	const peak, parts = 17, 64
	samples := int(math.Round(1 / hertz / d.sample))
	if hertz > 5000 {
		samples = int(math.Round(5 / hertz / d.sample)) // a whole number
	}
	in := func(i float64) float64 { return peak * math.Sin(2*math.Pi*hertz*d.sample*i+0.3) }
	e := make([]float64, samples)
	x := u.at(in(0))
	for i := range e {
		next := u.step(x, in(float64(i)), in(float64(i+1)))
		e[i] = (x[2] + next[2]) / 2
		for j := range parts {
			e[i] -= u.at(in(float64(i) + (float64(j)+0.5)/parts))[2] / parts
		}
		x = next
	}
	transform, worst := fourier.NewFFT(samples), 0.0
	for i, c := range transform.Coefficients(nil, e) {
		if transform.Freq(i)/d.sample <= bandEdge {
			worst = max(worst, 2*math.Hypot(real(c), imag(c))/float64(samples))
		}
	}
	return 20 * math.Log10(worst/peak)
}

// TestAntiderivativesWeighed is why steps are split at kinks instead of taking each
// junction's mean current from its antiderivative: unsplit steps are wrong either way by
// more than a rendering may be. The figures are in the comment of the stage's Dynamic.
func TestAntiderivativesWeighed(t *testing.T) {
	for _, bias := range []float64{0, 1.2, 1.3} {
		pair := handPair{is: 1e-13, vt: 0.025852, re: 0.22, bias: bias}
		for _, row := range []struct {
			hertz, times, minimum float64
		}{{1000, 8, -100}, {10000, 16, -70}} {
			trapezoid := unsplit{pair, 8, byTrapezoid}.error(row.hertz, over(row.times))
			antiderivative := unsplit{pair, 8, byAntiderivative}.error(row.hertz, over(row.times))
			t.Logf("%g V, %g Hz, %gx: trapezoid %.1f dB, antiderivative %.1f dB", bias, row.hertz, row.times, trapezoid, antiderivative)
			if min(trapezoid, antiderivative) < row.minimum {
				t.Errorf("%g V, %g Hz: unsplit steps would do", bias, row.hertz)
			}
		}
	}
}
