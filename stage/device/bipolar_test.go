package device

import (
	"math"
	"testing"
)

// power is a device with every effect present.
var power = Bipolar{
	Saturation: 2e-13, Emission: 1.02, ForwardGain: 150, ReverseGain: 5,
	Leakage: 1e-12, LeakageEmission: 2, Early: 80, Knee: 4,
	Exponent: 3, Gap: 1.11, GainExponent: 1.5, Reference: RoomKelvin,
}

// TestBipolarDerivatives compares the analytic derivatives with Richardson-
// extrapolated central differences over the active, saturated, cut-off and
// reverse regions.
func TestBipolarDerivatives(t *testing.T) {
	q := power.At(ZeroCelsius + 60)
	for _, vbe := range []float64{-2, 0, 0.3, 0.55, 0.7, 0.8} {
		for _, vbc := range []float64{-40, -2, 0, 0.3, 0.6, 0.75} {
			at := q.Currents(vbe, vbc)
			compare(t, "IC by VBE", at.ICByVBE, func(h float64) float64 { return q.Currents(vbe+h, vbc).IC }, at.IC)
			compare(t, "IC by VBC", at.ICByVBC, func(h float64) float64 { return q.Currents(vbe, vbc+h).IC }, at.IC)
			compare(t, "forward by VBE", at.ForwardByVBE, func(h float64) float64 { return q.Currents(vbe+h, vbc).Forward }, at.Forward)
			compare(t, "forward by VBC", at.ForwardByVBC, func(h float64) float64 { return q.Currents(vbe, vbc+h).Forward }, at.Forward)
			compare(t, "IB by VBE", at.IBByVBE, func(h float64) float64 { return q.Currents(vbe+h, vbc).IB }, at.IB)
			compare(t, "IB by VBC", at.IBByVBC, func(h float64) float64 { return q.Currents(vbe, vbc+h).IB }, at.IB)
		}
	}
}

// compare holds a derivative to fourth-order differences of f about 0, within
// 1e-7 or the differences' own rounding of a value of the given size, some units
// of 2^-52 over h.
func compare(t *testing.T, what string, got float64, f func(h float64) float64, size float64) {
	t.Helper()
	const h = 2e-4
	coarse := (f(2*h) - f(-2*h)) / (4 * h)
	fine := (f(h) - f(-h)) / (2 * h)
	want := (4*fine - coarse) / 3
	if tolerance := 1e-7*math.Abs(want) + 4*0x1p-52/h*math.Abs(size) + 1e-25; math.Abs(got-want) > tolerance {
		t.Errorf("%s: got %.12g, differences give %.12g", what, got, want)
	}
}

// TestGainAndEarly checks the forward gain and the output conductance IC/(VA+VCB)
// of the law's definition (J. M. Early, Proc. IRE 40:1401, 1952), at low current.
func TestGainAndEarly(t *testing.T) {
	b := Bipolar{Saturation: 1e-14, Emission: 1, ForwardGain: 100, Early: 50, Reference: RoomKelvin, Gap: 1.11, Exponent: 3}
	q := b.At(RoomKelvin)
	i := q.Currents(0.6, -10)
	within(t, "gain", i.IC/i.IB, 100*(1+10.0/50), 1e-9)
	within(t, "output conductance", -i.ICByVBC, i.IC/(50+10), 1e-9)
}

// TestGainDroop checks the knee of high-level injection: with base charge
// qb = (1 + sqrt(1 + 4 IF/IK))/2, the gain halves where qb = 2, that is IF = 2 IK
// and IC = IK.
func TestGainDroop(t *testing.T) {
	b := Bipolar{Saturation: 1e-14, Emission: 1, ForwardGain: 100, Knee: 3, Reference: RoomKelvin, Gap: 1.11, Exponent: 3}
	q := b.At(RoomKelvin)
	v := q.Scale * math.Log1p(2*3/1e-14)
	i := q.Currents(v, 0)
	within(t, "collector current", i.IC, 3, 1e-12)
	within(t, "gain", i.IC/i.IB, 50, 1e-9)
}

// TestSaturation checks the collector-emitter voltage of a saturated device
// against the closed form of J. J. Ebers and J. L. Moll (Proc. IRE 42:1761, 1954):
// VCE = VT ln[ (1/aR + b/betaR) / (1 - b/betaF) ], b = IC/IB, aR = betaR/(1+betaR).
func TestSaturation(t *testing.T) {
	b := Bipolar{Saturation: 1e-14, Emission: 1, ForwardGain: 100, ReverseGain: 2, Reference: RoomKelvin, Gap: 1.11, Exponent: 3}
	q := b.At(RoomKelvin)
	const vbe = 0.7
	for _, vce := range []float64{0.06, 0.1, 0.2} {
		i := q.Currents(vbe, vbe-vce)
		forced := i.IC / i.IB
		want := q.Scale * math.Log((1/(2.0/3)+forced/2)/(1-forced/100))
		within(t, "VCE", vce, want, 1e-9)
	}
}

// TestReverseTransport checks that the law is symmetrical when its junctions
// change places, as transport is.
func TestReverseTransport(t *testing.T) {
	b := Bipolar{Saturation: 1e-14, Emission: 1, ForwardGain: 40, ReverseGain: 40, Reference: RoomKelvin, Gap: 1.11, Exponent: 3}
	q := b.At(RoomKelvin)
	forward, reverse := q.Currents(0.65, -3), q.Currents(-3, 0.65)
	within(t, "IE of one, IC of other", reverse.IC, -(forward.IC + forward.IB), 1e-12)
	within(t, "IB", reverse.IB, forward.IB, 1e-12)
}

// TestGainTemperature checks the gain's temperature exponent.
func TestGainTemperature(t *testing.T) {
	b := power
	b.Knee, b.Leakage, b.Early = 0, 0, 0
	cold, hot := b.At(RoomKelvin), b.At(2*RoomKelvin)
	gain := func(q Transistor) float64 { i := q.Currents(0.5, 0); return i.IC / i.IB }
	within(t, "gain ratio", gain(hot)/gain(cold), math.Pow(2, 1.5), 1e-9)
}

// TestFiniteEverywhere tries the law far outside of any solution.
func TestFiniteEverywhere(t *testing.T) {
	q := power.At(RoomKelvin)
	for _, vbe := range []float64{-1e4, -1, 0, 1, 30, 1e4} {
		for _, vbc := range []float64{-1e4, -1, 0, 1, 30, 1e4} {
			i := q.Currents(vbe, vbc)
			for _, x := range []float64{i.IC, i.IB, i.ICByVBE, i.ICByVBC, i.IBByVBE, i.IBByVBC} {
				if math.IsNaN(x) || math.IsInf(x, 0) {
					t.Fatalf("VBE %g, VBC %g: %+v", vbe, vbc, i)
				}
			}
		}
	}
}
