package stage

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"quietcross/stage/circuits"
	"quietcross/stage/network"
)

// denseGain samples a gain curve evenly and densely.
func denseGain(t *testing.T, b *Biased, lo, hi float64) (in, gain []float64) {
	t.Helper()
	const count = 2001
	for i := range count {
		x := lo + (hi-lo)*float64(i)/(count-1)
		g, err := b.gain(x)
		if err != nil {
			t.Fatal(err)
		}
		in, gain = append(in, x), append(gain, g)
	}
	return in, gain
}

// beyond finds on each side of rest where the gain, followed outward, has risen most
// above the minimum that it passed, and the gain there: the slope that the stage reaches
// beyond its crossover. A side whose gain does not rise to half of the other's does not
// conduct; it ends at rest.
func beyond(in, gain []float64) (at, full [2]float64) {
	for side, direction := range []int{-1, 1} {
		lowest, most := math.Inf(1), 0.0
		for n := range in {
			i := n
			if direction < 0 {
				i = len(in) - 1 - n
			}
			if in[i]*float64(direction) < 0 {
				continue
			}
			lowest = min(lowest, gain[i])
			if gain[i]-lowest > most {
				most, at[side], full[side] = gain[i]-lowest, in[i], gain[i]
			}
		}
	}
	for side := range full {
		if full[side] < full[1-side]/2 {
			at[side], full[side] = 0, full[1-side]
		}
	}
	return at, full
}

// zoneOf returns the ends of the zone between the places of full gain in which sampled
// gains are under half of the full gain of their side, along straight lines between the
// samples.
func zoneOf(in, gain []float64, at, full [2]float64) (from, to float64) {
	level := func(x float64) float64 {
		if x < 0 {
			return full[0] / 2
		}
		return full[1] / 2
	}
	found := false
	for i := range in {
		if in[i] < at[0] || in[i] > at[1] || gain[i] >= level(in[i]) {
			continue
		}
		end := func(k int) float64 {
			if k < 0 || k >= len(in) || in[k] < at[0] || in[k] > at[1] || gain[i] >= level(in[k]) {
				return in[i] // at an end, or at rest, where the level changes
			}
			return in[i] + (in[k]-in[i])*(level(in[k])-gain[i])/(gain[k]-gain[i])
		}
		if !found {
			from, found = end(i-1), true
		}
		to = end(i + 1)
	}
	return from, to
}

// checkZone holds a dead zone to 2 percent of the gain curve, looked at first over the
// whole swing and then, closely, about the zone.
func checkZone(t *testing.T, name string, b *Biased) (zone float64) {
	t.Helper()
	c, err := b.Crossover()
	if err != nil {
		t.Errorf("%s: %v", name, err)
		return 0
	}
	if c.Inside {
		if b, err = b.inside(); err != nil {
			t.Fatal(err)
		}
	}
	lo, hi := b.Clip()
	in, gain := denseGain(t, b, lo, hi)
	at, full := beyond(in, gain)
	from, to := zoneOf(in, gain, at, full)
	if wide := to - from; wide > 0 && wide < 200*(in[1]-in[0]) {
		edge := wide + 4*(in[1]-in[0])
		in, gain = denseGain(t, b, max(lo, from-edge), min(hi, to+edge))
		from, to = zoneOf(in, gain, at, full)
	}
	if want := to - from; math.Abs(c.DeadZone-want) > 0.02*want+2*(in[1]-in[0]) {
		t.Errorf("%s: dead zone %g V, the gain curve has %g V, %g to %g, full gains %g at %g: %+v", name, c.DeadZone, want, from, to, full, at, c)
	}
	return c.DeadZone
}

// TestDeadZoneIsThatOfTheGainCurve checks every built-in stage.
func TestDeadZoneIsThatOfTheGainCurve(t *testing.T) {
	for _, named := range Builtin() {
		s := mustStage(t, named.Name, nil)
		for _, setting := range []Setting{AsBuilt(), Bias(0), Bias(0.4), Quiescent(0.01 * s.reference()), Held(s.reference())} {
			b, err := s.Set(setting)
			if err != nil {
				continue // a single resistor does not reach so little
			}
			zone := checkZone(t, fmt.Sprintf("%s %v", named.Name, setting), b)
			t.Logf("%s %v: %.4g V", named.Name, setting, zone)
			if i, err := b.Inspect(2); err != nil || math.Abs(i.GainFull)*(1+1e-9) < i.Crossover.Minimum {
				t.Errorf("%s %v: minimum gain %g, at full swing %g, %v", named.Name, setting, i.Crossover.Minimum, i.GainFull, err)
			}
		}
	}
}

// TestDeadZonesOfRandomStages checks 200 random stages at several biases: built-in ones
// with every part changed by up to threefold, which one might build, and every other one
// with values from the whole of their legal ranges.
func TestDeadZonesOfRandomStages(t *testing.T) {
	const count = 200
	tried, zones := 0, 0
	for n := range count {
		rng := rand.New(rand.NewPCG(31, uint64(n)))
		s := randomBuild(t, rng, n)
		settings := []Setting{Bias(0), Bias(0.3 * rng.Float64() * s.kind.MaximumBias), AsBuilt(), Quiescent(s.reference() * math.Pow(10, -3*rng.Float64()))}
		for _, setting := range settings[:1+n%4] {
			b, err := s.Set(setting)
			if refused := (*Error)(nil); errors.As(err, &refused) || errors.Is(err, network.ErrNoPoint) {
				continue
			}
			if err != nil {
				t.Fatal(err)
			}
			tried++
			if checkZone(t, fmt.Sprintf("case %d, %s %v", n, s.spec.Circuit, setting), b) > 0 {
				zones++
			}
		}
	}
	t.Logf("%d biases of %d stages, %d with a dead zone", tried, count, zones)
	if zones < count/2 {
		t.Errorf("only %d of %d biases have a dead zone", zones, tried)
	}
}

// randomBuild draws a legal stage: about a built-in one, or anywhere.
func randomBuild(t *testing.T, rng *rand.Rand, n int) *Stage {
	t.Helper()
	list := Builtin()
	for {
		spec, err := Lookup(list[n%len(list)].Name)
		if err != nil {
			t.Fatal(err)
		}
		kind, err := circuits.Lookup(spec.Circuit)
		if err != nil {
			t.Fatal(err)
		}
		if n%2 == 1 {
			spec = randomSpec(rng, kind)
			spec.Driver.Fitted = false
		} else {
			for _, g := range kind.Groups(&spec.Parts) {
				for _, f := range g.Fields {
					if v, ok := f.Value.(*float64); ok && g.Name != "thermal" {
						*v *= math.Pow(3, 2*rng.Float64()-1)
						if f.Range.Check(*v) != nil {
							*v = min(max(*v, f.Range.Min), f.Range.Max)
						}
					}
				}
			}
		}
		if s, err := New(spec); err == nil {
			return s
		}
	}
}
