package network

import (
	"math"
	"testing"
)

// TestPowerOfParabolas takes the mean power over steps of unequal length from the integral
// of polynomials: a voltage on a parabola with a current that does not move, and with one
// on a straight line.
func TestPowerOfParabolas(t *testing.T) {
	const step, before = 0.3, 0.7
	over := Quadrature{Seconds: step, before: before}
	volts := func(at float64) float64 { return 2 - at + 3*at*at }
	v := [3]float64{volts(step), volts(0), volts(-before)}
	// The integral of 2 - x + 3 x^2 from 0 to the step, by the step.
	mean := 2 - step/2 + step*step
	if got := over.Power(v, [3]float64{5, 5, 5}); math.Abs(got-5*mean) > 1e-14 {
		t.Errorf("a parabola of volts at 5 A: %.15g W, want %.15g", got, 5*mean)
	}
	line := [3]float64{step, 0, -before}
	// The integral of x times the same.
	want := step - step*step/3 + 3*step*step*step/4
	if got := over.Power(line, v); math.Abs(got-want) > 1e-14 {
		t.Errorf("a parabola at a rising current: %.15g W, want %.15g", got, want)
	}
}

// TestPowerOfSines takes the power of sines over a cycle: v i/2 times the cosine of the
// phase between them, which any textbook has, falls short by the fourth power of the step.
func TestPowerOfSines(t *testing.T) {
	const phase = 0.8
	wrong := func(steps int) float64 {
		over := Quadrature{Seconds: 1, before: 1}
		at := func(k int, lag float64) (v [3]float64) {
			for i := range v {
				v[i] = math.Sin(2*math.Pi*float64(k-i)/float64(steps) - lag)
			}
			return v
		}
		sum := 0.0
		for k := range steps {
			sum += over.Power(at(k, 0), at(k, phase))
		}
		return math.Abs(sum/float64(steps) - math.Cos(phase)/2)
	}
	coarse, fine := wrong(20), wrong(40)
	if ratio := coarse / fine; !(ratio > 14 && ratio < 18) || coarse > 1e-3 {
		t.Errorf("20 steps are wrong by %.2g, 40 by %.2g", coarse, fine)
	}
}
