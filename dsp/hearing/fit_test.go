package hearing

import (
	"math"
	"os"
	"testing"

	"gonum.org/v1/gonum/optimize"
)

// TestFitConstants finds the fitted constants again from the published thresholds:
// in groups, each by the simplex search of Nelder and Mead on the mean fourth power of
// residuals over their bars (so that no single bar gives way to many easy ones), from
// the constants as they are, one round. It takes minutes; QUIETCROSS_LONG=1 runs it:
//
//	QUIETCROSS_LONG=1 go test ./dsp/hearing -run FitConstants -v -timeout 0
func TestFitConstants(t *testing.T) {
	if os.Getenv("QUIETCROSS_LONG") == "" {
		t.Skip("QUIETCROSS_LONG=1 runs it")
	}
	k := standard
	for _, g := range groups {
		loss := g.fit(t, &k)
		t.Logf("%s: loss %.3f\n%+v", g.name, loss, k)
	}
}

// group is a set of constants and the published sets that decide them.
type group struct {
	name   string
	fields func(k *constants) []*float64
	sets   []string
}

var groups = []group{
	{"filters", func(k *constants) []*float64 {
		return []*float64{&k.slope, &k.saturates, &k.upper, &k.upperSlope}
	}, []string{"notched noise", "noise band masks tone", "tone masks tone", "under the ISO mask"}},
	{"integration", func(k *constants) []*float64 { return []*float64{&k.integrate, &k.looks} }, []string{"duration"}},
	{"step", func(k *constants) []*float64 { return []*float64{&k.step} }, []string{"intensity"}},
	{"noise", func(k *constants) []*float64 { return []*float64{&k.noise, &k.noiseFall} }, []string{"tone in noise", "noise level"}},
	{"forward", func(k *constants) []*float64 {
		return []*float64{&k.fast, &k.slow, &k.slowShare, &k.bend}
	}, []string{"forward masking"}},
	{"beats", func(k *constants) []*float64 { return []*float64{&k.beat, &k.beatNoise} }, []string{"modulation", "tone masks noise"}},
}

// fit varies the group's constants in k, on a logarithmic scale, and returns the loss.
func (g group) fit(t *testing.T, k *constants) float64 {
	fields := g.fields(k)
	start := make([]float64, len(fields))
	for i, f := range fields {
		start[i] = *f
	}
	set := func(x []float64) {
		for i, f := range fields {
			*f = start[i] * math.Exp(x[i])
		}
	}
	problem := optimize.Problem{Func: func(x []float64) float64 {
		set(x)
		return g.loss(t, *k)
	}}
	r, err := optimize.Minimize(problem, make([]float64, len(fields)),
		&optimize.Settings{FuncEvaluations: 14 * len(fields), Converger: &optimize.FunctionConverge{Absolute: 0.02, Iterations: 6}},
		&optimize.NelderMead{SimplexSize: 0.2})
	if err != nil && r == nil {
		t.Fatal(err)
	}
	set(r.X)
	for _, f := range fields {
		*f = math.Round(*f*1000) / 1000
	}
	return r.F
}

func (g group) loss(t testing.TB, k constants) float64 {
	total, n := 0.0, 0
	for _, name := range g.sets {
		s := setNamed(t, name)
		for i, r := range s.residuals(t, model(k)) {
			total += math.Pow(r/s.conditions[i].tolerance, 4)
			n++
		}
	}
	return total / float64(n)
}
