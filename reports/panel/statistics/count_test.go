package statistics

import (
	"math"
	"testing"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.9g, want %.9g ± %g", what, got, want, tol)
	}
}

// ISO 4120 and ASTM E1885, table of minimum numbers of right answers for the
// triangle test at 10, 5, 1 and 0.1 %.
func TestTriangleCriticalNumbers(t *testing.T) {
	table := map[int][4]int{
		12: {7, 8, 9, 10}, 18: {10, 10, 12, 13}, 24: {12, 13, 15, 16},
		30: {14, 15, 17, 19}, 36: {17, 18, 20, 22}, 60: {26, 27, 30, 33},
	}
	for n, want := range table {
		for i, alpha := range []float64{0.10, 0.05, 0.01, 0.001} {
			if got := Critical(n, GuessThree, alpha); got != want[i] {
				t.Errorf("n %d alpha %g: got %d, want %d", n, alpha, got, want[i])
			}
		}
	}
}

// Leventhal, How conventional statistical analyses can prevent finding audible
// differences, JAES 34:437, 1986: type 1 and type 2 errors of two-alternative
// tests.
func TestErrorsOfPublishedTests(t *testing.T) {
	for _, c := range []struct {
		n, right    int
		alpha       float64
		p, beta     float64
		tolA, tolBe float64
	}{
		{16, 12, .0384, .6, .8334, 5e-5, 5e-5},
		{16, 9, .4018, .6, .2839, 5e-5, 5e-5},
		{50, 32, .0325, .6, .6644, 5e-5, 5e-5},
		{15, 12, .0176, .6, .9095, 5e-5, 5e-5},
		{15, 12, .0176, .7, .7031, 5e-5, 5e-5},
		{15, 12, .0176, .75, .5387, 5e-5, 5e-5},
		{15, 12, .0176, .8, .3518, 5e-5, 5e-5},
	} {
		near(t, "alpha", Count{c.right, c.n}.PValue(GuessTwo), c.alpha, c.tolA)
		near(t, "beta", 1-Plan{Trials: c.n, Critical: c.right}.Power(c.p), c.beta, c.tolBe)
	}
}

// Exact binomial planning for two alternatives, power 0.8 at alpha 0.05;
// figures computed outside this project from the binomial distribution.
func TestLeastTrials(t *testing.T) {
	for _, c := range []struct {
		p        float64
		n, right int
	}{{.6, 158, 90}, {.7, 37, 24}, {.75, 23, 16}, {.8, 18, 13}, {.9, 8, 7}} {
		got, err := MinimumTrials(GuessTwo, c.p, .05, .8)
		if err != nil || got.Trials != c.n || got.Critical != c.right {
			t.Errorf("p %g: got %d (%d right), %v; want %d (%d right)", c.p, got.Trials, got.Critical, err, c.n, c.right)
		}
	}
	if _, err := MinimumTrials(GuessTwo, .5, .05, .8); err == nil {
		t.Error("a guessing listener was given a plan")
	}
	if _, err := MinimumTrials(GuessTwo, .5001, .05, .8); err == nil {
		t.Error("an endless plan was accepted")
	}
}

// Clopper and Pearson, Biometrika 26:404, 1934; figures computed outside this
// project from the beta distribution. 0 of 20 has the closed form 1-0.025^(1/20).
func TestClopperPearson(t *testing.T) {
	for _, c := range []struct {
		k, n   int
		lo, hi float64
	}{
		{12, 16, .476229, .927338},
		{10, 16, .354346, .848016},
		{15, 20, .508954, .913429},
		{0, 20, 0, .168433},
		{0, 20, 0, 1 - math.Pow(.025, 1./20)},
		{20, 20, math.Pow(.025, 1./20), 1},
	} {
		got := Count{c.k, c.n}.Interval(.95)
		near(t, "lower", got.Lo, c.lo, 5e-7)
		near(t, "upper", got.Hi, c.hi, 5e-7)
	}
	if got := (Count{}).Interval(.95); got.Lo != 0 || got.Hi != 1 {
		t.Errorf("no trials: %+v", got)
	}
}

// The tail against the plain sum of binomial terms.
func TestTailAgainstSum(t *testing.T) {
	for n := range 12 {
		for k := -1; k <= n+1; k++ {
			for _, p := range []float64{0, .1, 1. / 3, .5, .9, 1} {
				sum := 0.0
				for j := max(k, 0); j <= n; j++ {
					sum += choose(n, j) * math.Pow(p, float64(j)) * math.Pow(1-p, float64(n-j))
				}
				near(t, "tail", Tail(n, k, p), sum, 1e-13)
			}
		}
	}
}

func choose(n, k int) float64 {
	c := 1.0
	for i := range k {
		c = c * float64(n-i) / float64(i+1)
	}
	return c
}

// A guessing listener may be called "above chance" at most as often as the
// exact size says, whatever the length of the test: 95 % or more are not.
func TestGuessingListenerIsNotAboveChance(t *testing.T) {
	for n := 1; n <= 200; n++ {
		for _, guess := range []float64{GuessTwo, GuessThree} {
			if p := NewPlan(n, guess, .05); p.Size > .05 {
				t.Errorf("n %d guess %g: size %g", n, guess, p.Size)
			}
		}
	}
	rng := seeded(t, 11)
	heard := 0
	for range 1000 {
		c := Count{Right: binomial(rng, 30, GuessThree), Trials: 30}
		if Judge(c, GuessThree, .05, Discriminated(GuessThree, .5), .8).Outcome == Heard {
			heard++
		}
	}
	t.Logf("called above chance: %d of 1000", heard)
	if heard > 50 {
		t.Errorf("guessing listeners called above chance in %d of 1000 runs", heard)
	}
}

func TestJudgeNeedsPowerToSayNotHeard(t *testing.T) {
	ability := Discriminated(GuessThree, .5)
	short := Judge(Count{3, 6}, GuessThree, .05, ability, .8)
	if short.Outcome != Undecided || short.Power >= .8 {
		t.Errorf("six trials: %v with power %g", short.Outcome, short.Power)
	}
	long := Judge(Count{15, 45}, GuessThree, .05, ability, .8)
	if long.Outcome != NotHeard || long.Power < .8 {
		t.Errorf("45 trials: %v with power %g", long.Outcome, long.Power)
	}
	if got := Judge(Count{15, 18}, GuessThree, .05, ability, .8); got.Outcome != Heard {
		t.Errorf("15 of 18: %v", got.Outcome)
	}
	if got := Judge(Count{}, GuessThree, .05, ability, .8); got.Outcome != Undecided || got.P != 1 {
		t.Errorf("no trials: %+v", got)
	}
}

func TestProgrammerErrorsPanic(t *testing.T) {
	for name, f := range map[string]func(){
		"count":    func() { Count{3, 2}.PValue(.5) },
		"tail":     func() { Tail(3, 1, 1.5) },
		"trials":   func() { Tail(-1, 0, .5) },
		"level":    func() { Count{1, 2}.Interval(1) },
		"plan":     func() { NewPlan(0, .5, .05) },
		"rule":     func() { NewStaircase(Rule{Down: 0, Step: 1}) },
		"shape":    func() { Shape(9).At(0) },
		"quantile": func() { Shape(9).Quantile(.5) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			f()
		}()
	}
}
