package statistics

import (
	"math"
	"math/rand/v2"
	"testing"
)

// accuracy is what 1,000 simulated sessions of 50 trials came to.
type accuracy struct {
	rms, bias, covered float64
}

// simulate runs listeners with 2 % lapses and thresholds spread over the range;
// spread draws the scale of each.
func simulate(t *testing.T, seed uint64, spread func(*rand.Rand) float64) accuracy {
	t.Helper()
	runs := 1000
	if testing.Short() {
		runs = 200
	}
	rng := seeded(t, seed)
	var sum accuracy
	for range runs {
		listener := Curve{Location: -70 + 30*rng.Float64(), Scale: spread(rng), Guess: GuessThree, Lapse: .02}
		a, err := NewPlacement(DecibelPrior(-80, -30))
		if err != nil {
			t.Fatal(err)
		}
		for range 50 {
			level := a.Next()
			a.Answer(level, rng.Float64() < listener.At(level))
		}
		e := a.Threshold(.95)
		off := e.Mean - listener.Location
		sum.bias += off
		sum.rms += off * off
		if e.Interval.Contains(listener.Location) {
			sum.covered++
		}
	}
	n := float64(runs)
	return accuracy{math.Sqrt(sum.rms / n), sum.bias / n, sum.covered / n}
}

// Doire, Brookes and Naylor, JASA 141:2501, 2017, report about 1.2 dB rms in the
// threshold after 50 trials over a wide range of slopes. The slopes here are
// 0.16 and 0.08 per dB in proportion right, and a panel whose spreads fill the
// prior (0.23 to 0.04 per dB). At 0.065 per dB the error itself is logged, not
// held: there 50 answers hold less information. Bayesian intervals are calibrated over the prior, not at each
// slope: for listeners much steeper than its middle they are too wide, so there
// only the lower limit of the coverage is held.
func TestPlacementRecoversThresholds(t *testing.T) {
	fixed := func(s float64) func(*rand.Rand) float64 { return func(*rand.Rand) float64 { return s } }
	for _, c := range []struct {
		name       string
		spread     func(*rand.Rand) float64
		mostRMS    float64
		mostBias   float64
		mostCovers float64
	}{
		{"spread 1 dB", fixed(1), 1.2, .2, 1},
		{"spread 2 dB", fixed(2), 1.2, .1, .97},
		{"spread 2.5 dB", fixed(2.5), math.Inf(1), .1, .97},
		{"panel, 0.7 to 4 dB", func(rng *rand.Rand) float64 { return 0.7 * math.Pow(4/0.7, rng.Float64()) }, 1.2, .12, .97},
	} {
		got := simulate(t, 41, c.spread)
		t.Logf("%s: rms %.3f dB, bias %+.3f dB, interval covers %.1f %%", c.name, got.rms, got.bias, 100*got.covered)
		if testing.Short() {
			// 200 runs are too few for the limits; a broken track still shows.
			if got.rms > 2 || got.covered < .85 {
				t.Errorf("%s: far off", c.name)
			}
			continue
		}
		if got.rms > c.mostRMS {
			t.Errorf("%s: rms error %.3f dB", c.name, got.rms)
		}
		if math.Abs(got.bias) > c.mostBias {
			t.Errorf("%s: bias %.3f dB", c.name, got.bias)
		}
		if got.covered < .93 || got.covered > c.mostCovers {
			t.Errorf("%s: the interval covers %.1f %%", c.name, 100*got.covered)
		}
	}
}

// A stimulus is placed where the brute-force expected entropy of the threshold,
// computed from two whole updated posteriors, is minimum (within one step, as
// documented).
func TestPlacementAgainstBruteForce(t *testing.T) {
	a, err := NewPlacement(DecibelPrior(-20, 0))
	if err != nil {
		t.Fatal(err)
	}
	rng := seeded(t, 8)
	listener := Curve{Location: -11, Scale: 1.5, Guess: GuessThree}
	for range 25 {
		level := a.Next()
		best, at := math.Inf(1), 0.0
		for x := -20.0; x <= 0; x++ {
			if e := expectedEntropy(a, x); e < best {
				best, at = e, x
			}
		}
		if math.Abs(level-at) > 1 && expectedEntropy(a, level) > best+1e-3 {
			t.Errorf("trial %d: placed at %g, best at %g", a.Trials(), level, at)
		}
		a.Answer(level, rng.Float64() < listener.At(level))
	}
}

func expectedEntropy(a *Placement, x float64) float64 {
	p := 0.0
	for i, m := range a.posterior {
		s, l := i/len(a.prior.Lapses), i%len(a.prior.Lapses)
		c := Curve{
			Location: a.thresholds[s/len(a.prior.Spreads)], Scale: a.prior.Spreads[s%len(a.prior.Spreads)],
			Guess: a.prior.Guess, Lapse: a.prior.Lapses[l],
		}
		p += m * c.At(x)
	}
	sum := 0.0
	for _, right := range []bool{true, false} {
		b := a.Clone()
		b.Answer(x, right)
		h := 0.0
		for _, m := range b.mass {
			if m > 0 {
				h -= m * math.Log(m)
			}
		}
		if right {
			sum += p * h
		} else {
			sum += (1 - p) * h
		}
	}
	return sum
}

// A listener who hears everything, or nothing, in the range must not get a
// threshold with two finite ends.
func TestPlacementOutOfReach(t *testing.T) {
	for _, right := range []bool{true, false} {
		a, err := NewPlacement(DecibelPrior(-60, -40))
		if err != nil {
			t.Fatal(err)
		}
		for range 60 {
			a.Answer(a.Next(), right)
		}
		got := a.Threshold(.95)
		if right && got.Interval.Hi > -60 || !right && got.Interval.Lo < -45 {
			t.Errorf("always %v: %+v", right, got)
		}
		if open := math.IsInf(got.Interval.Lo, -1) || math.IsInf(got.Interval.Hi, 1); !open {
			t.Errorf("always %v: bounded interval %+v", right, got.Interval)
		}
	}
}

func TestPlacementLearnsTheSpread(t *testing.T) {
	rng := seeded(t, 9)
	listener := Curve{Location: -50, Scale: 3, Guess: GuessThree}
	a, err := NewPlacement(DecibelPrior(-80, -30))
	if err != nil {
		t.Fatal(err)
	}
	for i := range 600 {
		level := -60 + float64(i%21)
		a.Answer(level, rng.Float64() < listener.At(level))
	}
	got := a.Spread(.95)
	if !got.Interval.Contains(3) || got.Interval.Hi-got.Interval.Lo > 2.5 {
		t.Errorf("spread %+v", got)
	}
}

func TestPriorIsChecked(t *testing.T) {
	for name, spoil := range map[string]func(*Prior){
		"range":  func(p *Prior) { p.Hi = p.Lo },
		"size":   func(p *Prior) { p.Hi = 1e6 },
		"guess":  func(p *Prior) { p.Guess = 1 },
		"spread": func(p *Prior) { p.Spreads[0] = 0 },
		"lapse":  func(p *Prior) { p.Lapses[0] = .7 },
		"empty":  func(p *Prior) { p.Spreads = nil },
	} {
		p := DecibelPrior(-60, -40)
		spoil(&p)
		if _, err := NewPlacement(p); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
}

func BenchmarkPlacement(b *testing.B) {
	rng := rand.New(rand.NewPCG(1, 1))
	listener := Curve{Location: -50, Scale: 2, Guess: GuessThree, Lapse: .02}
	for b.Loop() {
		a, err := NewPlacement(DecibelPrior(-80, -30))
		if err != nil {
			b.Fatal(err)
		}
		for range 50 {
			level := a.Next()
			a.Answer(level, rng.Float64() < listener.At(level))
		}
	}
}
