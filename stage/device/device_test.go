package device

import (
	"math"
	"testing"
)

// within fails unless got is within a relative tolerance of want.
func within(t *testing.T, what string, got, want, relative float64) {
	t.Helper()
	if !(math.Abs(got-want) <= relative*math.Abs(want)) {
		t.Errorf("%s: got %.12g, want %.12g within %.1g", what, got, want, relative)
	}
}

// TestThermalVoltage checks kT/q from the constants of the SI brochure, 9th
// edition (2019), at the two usual reference temperatures.
func TestThermalVoltage(t *testing.T) {
	within(t, "25 C", ThermalVoltage(ZeroCelsius+25), 25.69258e-3, 2e-7)
	within(t, "27 C", ThermalVoltage(ZeroCelsius+27), 25.86493e-3, 2e-7)
}

// TestSaturationTemperatureLaw checks the law of IS (S. M. Sze and K. K. Ng, Physics
// of Semiconductor Devices, from memory)
// against its ratio computed apart from this code: 27 to 37 C, exponent 3, gap
// 1.11 V.
func TestSaturationTemperatureLaw(t *testing.T) {
	j := Junction{Saturation: 1e-14, Emission: 1, Exponent: 3, Gap: 1.11, Reference: ZeroCelsius + 27}
	ratio := j.SaturationAt(ZeroCelsius+37) / 1e-14
	within(t, "ratio", ratio, 4.401805, 2e-7)
}

// TestVoltageTemperatureSlope checks dV/dT at constant current against
// (V - EG - X kT/q)/T, which follows from the law by differentiation: -1.79185
// mV/K at 0.65 V and 300 K with gap 1.11 V and exponent 3; and that the emission
// coefficient does not enter.
func TestVoltageTemperatureSlope(t *testing.T) {
	for _, n := range []float64{1, 1.5, 2} {
		j := Junction{Saturation: 1e-9, Emission: n, Exponent: 3, Gap: 1.11, Reference: 300}
		i, _ := new(j.At(300)).Current(0.65)
		voltage := func(kelvin float64) float64 {
			d := j.At(kelvin)
			return d.Scale * math.Log1p(i/d.Saturation)
		}
		const h = 1e-2
		slope := (voltage(300+h) - voltage(300-h)) / (2 * h)
		within(t, "dV/dT", slope, -1.79185e-3, 1e-4)
	}
}

// TestExponentialIsSmooth checks that the continued exponential has no step in
// value or slope and stays finite.
func TestExponentialIsSmooth(t *testing.T) {
	below, slopeBelow := exp(expLimit)
	above, slopeAbove := exp(math.Nextafter(expLimit, 1e9))
	within(t, "value", above, below, 1e-13)
	within(t, "slope", slopeAbove, slopeBelow, 1e-13)
	for _, x := range []float64{-1e300, -1e4, 1e4, 1e200} {
		if e, s := exp(x); math.IsNaN(e) || math.IsInf(e, 0) || math.IsNaN(s) || math.IsInf(s, 0) {
			t.Errorf("exp(%g) = %g, slope %g", x, e, s)
		}
	}
}

// TestSeriesDiodes checks that count diodes in series carry the current of one
// at count times the voltage.
func TestSeriesDiodes(t *testing.T) {
	d := NewDiode(1e-14, 0.02585)
	one, g := d.Current(0.61)
	for count := 1; count <= 4; count++ {
		s := d.InSeries(count)
		i, gs := s.Current(0.61 * float64(count))
		within(t, "current", i, one, 1e-12)
		within(t, "conductance", gs*float64(count), g, 1e-12)
	}
}

// TestLimitedStepsClimb checks the limiter: it leaves small steps alone, and a
// diode driven from 0 V by Newton's method through 1 ohm from 100 V settles.
func TestLimitedStepsClimb(t *testing.T) {
	d := NewDiode(1e-15, 0.0257)
	if got := d.Limit(0.7001, 0.7); got != 0.7001 {
		t.Errorf("a small step became %g", got)
	}
	v, at := 0.0, 0.0
	for range 60 {
		at = d.Limit(v, at)
		i, g := d.Current(at)
		v = (100 - i + g*at) / (1 + g)
	}
	i, _ := d.Current(v)
	within(t, "current", 100-v, i, 1e-12)
}

// TestFieldEffect checks the channel's limits, which the textbook laws are: the
// square law beta (VGS - VT0)^2/(2 n) far over threshold, an exponential of slope n
// kT/q under it, the linear region's conductance, its symmetry and derivatives.
func TestFieldEffect(t *testing.T) {
	f := FieldEffect{Threshold: 2, Beta: 1.2, Slope: 1.3, Reference: RoomKelvin}
	c := f.At(RoomKelvin)
	id, _, _ := c.Current(8, 30)
	within(t, "square law", id, 1.2*36/(2*1.3), 1e-9)
	low, _, _ := c.Current(1.2, 5)
	lower, _, _ := c.Current(1.2-0.01, 5)
	within(t, "subthreshold slope", math.Log(low/lower), 0.01/(1.3*ThermalVoltage(RoomKelvin)), 1e-5)
	_, _, g := c.Current(8, 0)
	within(t, "channel conductance", g, 1.2*6, 1e-6)

	f.Modulation = 0.02
	c = f.At(350)
	for _, vgs := range []float64{0, 1.9, 2.1, 5} {
		for _, vds := range []float64{-1, 0, 0.05, 1, 20} {
			id, byVGS, byVDS := c.Current(vgs, vds)
			compare(t, "ID by VGS", byVGS, func(h float64) float64 { i, _, _ := c.Current(vgs+h, vds); return i }, id)
			compare(t, "ID by VDS", byVDS, func(h float64) float64 { i, _, _ := c.Current(vgs, vds+h); return i }, id)
		}
	}
}
