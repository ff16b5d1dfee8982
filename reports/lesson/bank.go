package lesson

import (
	"fmt"
	"math"
	"math/rand/v2"

	"gonum.org/v1/gonum/stat/distuv"

	"quietcross/dsp/level"
	"quietcross/reports/view/format"
	"quietcross/stage"
	"quietcross/stage/device"
)

// The bank of questions. A seed draws their numbers, and each answer is computed from the
// numbers that were drawn: by the formulas that a class works with, which are stated in
// the key, or by the solved stage where the question is about one.

// A question is one exercise.
type question struct {
	Text   string
	Answer string
	Value  float64 // the answer in SI units or as a ratio, for the tests
}

// A draw takes numbers from a seed.
type draw struct{ *rand.Rand }

// of returns one of several values.
func (d draw) of(values ...float64) float64 { return values[d.IntN(len(values))] }

func questions(t *thread, seed uint64) ([]question, error) {
	d := draw{rand.New(rand.NewPCG(seed, 0x1e550))}
	list := []question{
		conduction(d), efficiency(d), hottestPair(d), classAHeat(d), baseResistor(d),
		evenHandOver(d), multiplier(d), residualShare(d), stableSink(d), lostLoop(d), guessed(d),
	}
	asked, err := solved(t, d)
	return append(list, asked), err
}

// conduction: a device conducts while the sine is beyond the edge of the zone.
func conduction(d draw) question {
	edge, peak := d.of(0.55, 0.6, 0.65, 0.7), d.of(1, 1.5, 2, 3, 5)
	degrees := 180 - 2*math.Asin(edge/peak)*180/math.Pi
	return question{
		fmt.Sprintf("In an unbiased pair each device conducts once the input is %s beyond zero. For how many degrees of a cycle does each of them conduct when a sine of %s peak goes in?", volts(edge), volts(peak)),
		fmt.Sprintf("180° − 2·arcsin(%s/%s) = %s°", format.Number(edge, 2), format.Number(peak, 2), format.Fixed(degrees, 1)), degrees,
	}
}

// efficiency of class B: π/4 of the output's peak over the rail.
func efficiency(d draw) question {
	rail, part := d.of(15, 20, 24, 30, 40), d.of(0.5, 0.6, 0.75, 0.9)
	peak := part * rail
	v := classBEfficiency(peak, rail)
	return question{
		fmt.Sprintf("A class B stage on rails of ±%s delivers a sine of %s peak. Which share of the power it draws reaches the load?", volts(rail), volts(peak)),
		fmt.Sprintf("π/4 · %s/%s = %s", format.Number(peak, 3), format.Number(rail, 2), percent(v)), v,
	}
}

// classBEfficiency is that of an ideal pair on two rails, all in V.
func classBEfficiency(peak, rail float64) float64 { return math.Pi / 4 * peak / rail }

// pairHeat is the maximum mean heat of both devices of an ideal class B pair, W.
func pairHeat(rail, load float64) float64 { return 2 * rail * rail / (math.Pi * math.Pi * load) }

// hottestPair: maximum mean heat of an ideal class B pair, 2V²/(π²R).
func hottestPair(d draw) question {
	rail, load := d.of(15, 20, 24, 30, 40), d.of(4, 8, 16)
	v := pairHeat(rail, load)
	return question{
		fmt.Sprintf("An ideal class B pair on ±%s drives %s. At which peak of a sine do its devices become hottest, and how much heat do both make then?", volts(rail), ohms(load)),
		fmt.Sprintf("At 2/π of the rail, %s; 2·V²/(π²·R) = %s", volts(2*rail/math.Pi), watts(v)), v,
	}
}

func classAHeat(d draw) question {
	supply, current := d.of(9, 12, 15, 24), d.of(0.1, 0.15, 0.2, 0.3)
	v := supply * current
	return question{
		fmt.Sprintf("A class A stage takes %s from %s. How much does it draw in silence, and how much at the largest undistorted sine?", amperes(current), volts(supply)),
		fmt.Sprintf("%s · %s = %s, in both cases: the mean current does not change", volts(supply), amperes(current), watts(v)), v,
	}
}

func baseResistor(d draw) question {
	supply, current, gain := d.of(9, 12, 15), d.of(0.02, 0.03, 0.05), d.of(80, 100, 150, 200)
	const junction = 0.7
	v := (supply - junction) * gain / current
	return question{
		fmt.Sprintf("One resistor from %s to the base is to set %s in a transistor of current gain %s; its junction takes %s. Which value? What becomes of the current if the next transistor has twice the gain?",
			volts(supply), amperes(current), format.Fixed(gain, 0), volts(junction)),
		fmt.Sprintf("(%s − %s) · %s/%s = %s; about twice the current", volts(supply), volts(junction), format.Fixed(gain, 0), amperes(current), ohms(v)), v,
	}
}

// evenHandOver: IQ·RE = kT/q (Oliver, Hewlett-Packard Journal, February 1971).
func evenHandOver(d draw) question {
	each := d.of(0.1, 0.15, 0.22, 0.33, 0.47)
	vt := device.ThermalVoltage(device.ZeroCelsius + 25)
	v := vt / each
	return question{
		fmt.Sprintf("Each emitter of a pair has %s, all resistance counted. At which quiescent current is the hand-over most even at 25 °C?", ohms(each)),
		fmt.Sprintf("kT/q = %s; %s/%s = %s", format.Quantity(vt, "V"), format.Quantity(vt, "V"), ohms(each), format.Quantity(v, "A")), v,
	}
}

func multiplier(d draw) question {
	junction, lower, wanted := d.of(0.6, 0.62, 0.65), d.of(470, 680, 1000), d.of(1.2, 1.3, 2.4, 2.6)
	v := lower * (wanted/junction - 1)
	return question{
		fmt.Sprintf("A V_BE multiplier's transistor has %s from base to emitter and %s across them. Which resistor from collector to base makes %s? (Leave its base current out.)",
			volts(junction), ohms(lower), volts(wanted)),
		fmt.Sprintf("%s · (%s/%s − 1) = %s", ohms(lower), format.Number(wanted, 2), format.Number(junction, 2), ohms(v)), v,
	}
}

func residualShare(d draw) question {
	under := d.of(40, 46, 54, 60, 66)
	v := level.DB(-under).Amplitude()
	return question{
		fmt.Sprintf("A residual lies %s dB under the music. What share of the music's voltage is that, and what share of its power?", format.Fixed(under, 0)),
		fmt.Sprintf("%s of the voltage, %s of the power", percent(v), format.Number(100*v*v, 2)+"\u00a0%"), v,
	}
}

// stableResistance is the thermal resistance, K/W, at which a device's thermal loop gain
// is 1, for a junction that loses 2 mV per kelvin (common practice).
func stableResistance(vt, supply, current, emitter float64) float64 {
	return (vt/current + emitter) / (supply * 2e-3)
}

// stableSink: theta·V·(2 mV/K)/(VT/I + RE) < 1.
func stableSink(d draw) question {
	supply, current, each := d.of(15, 20, 30), d.of(0.03, 0.05, 0.1), d.of(0.1, 0.22, 0.33)
	v := stableResistance(device.ThermalVoltage(device.ZeroCelsius+25), supply, current, each)
	return question{
		fmt.Sprintf("A device at %s and %s has %s in its emitter; its bias holds and does not track. A junction loses 2 mV per kelvin. Up to which thermal resistance from junction to air does it not run away?",
			volts(supply), amperes(current), ohms(each)),
		fmt.Sprintf("(kT/q / I + R_E)/(V · 2 mV/K) = %s K/W", format.Number(v, 3)), v,
	}
}

func lostLoop(d draw) question {
	loop, part := d.of(100, 200, 500, 1000), d.of(0.001, 0.005, 0.01)
	v := loop * part
	return question{
		fmt.Sprintf("Around a stage a loop has a gain of %s. Within the dead zone the stage passes %s of its signal. How large is the gain of the loop there, and by how much does it divide a fault?", format.Fixed(loop, 0), percent(part)),
		fmt.Sprintf("%s; by 1 + %s = %s, not by %s", format.Number(v, 2), format.Number(v, 2), format.Number(1+v, 2), format.Fixed(1+loop, 0)), v,
	}
}

// guessed: chance of at least so many right answers among n with two choices.
func guessed(d draw) question {
	n := int(d.of(10, 12, 16))
	right := n * 3 / 4
	v := byGuessing(n, right)
	return question{
		fmt.Sprintf("In a blind test with two choices someone is right %d times in %d. How probable is that, or better, by guessing alone?", right, n),
		fmt.Sprintf("Σ C(%d,k)/2^%d over k = %d … %d: %s", n, n, right, n, percent(v)), v,
	}
}

// byGuessing is the probability of at least so many right answers among n.
func byGuessing(n, right int) float64 {
	return 1 - distuv.Binomial{N: float64(n), P: 0.5}.CDF(float64(right-1))
}

// solved asks for a reading of the lesson's own stage.
func solved(t *thread, d draw) (question, error) {
	part := d.of(0.25, 0.5, 1)
	x, err := t.held(part * t.optimum)
	if err != nil {
		return question{}, err
	}
	peak := d.of(0.25, 0.5, 0.75) * t.ladder.Drive()
	p, err := x.evaluation.Biased().PowerOf(stage.Sine(peak))
	if err != nil {
		return question{}, err
	}
	return question{
		fmt.Sprintf("In the page, set the bias of the lesson's stage to %s. With a sine of %s peak it draws %s and gives %s to the load. How much stays in the stage, and what is its efficiency?",
			amperes(x.evaluation.Quiescent), volts(peak), watts(p.Supply), watts(p.Load)),
		fmt.Sprintf("%s − %s = %s; %s", watts(p.Supply), watts(p.Load), watts(p.Supply-p.Load), percent(p.Efficiency)), p.Efficiency,
	}, nil
}
