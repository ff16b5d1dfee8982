package statistics

import (
	"errors"
	"math"
	"testing"
)

// invented is a two-alternative data set made for these tests, 42 trials at each of
// six levels. testdata/fit.py fits it by a method of its own.
var invented = []Point{
	{-8, Count{22, 42}},
	{-5, Count{28, 42}},
	{-2, Count{31, 42}},
	{1, Count{41, 42}},
	{4, Count{40, 42}},
	{7, Count{41, 42}},
}

var inventedModel = Model{Shape: Logistic, Guess: .5, MaxLapse: .1}

// TestFitAgainstAnotherMethod holds the fit to what testdata/fit.py prints.
func TestFitAgainstAnotherMethod(t *testing.T) {
	f, err := inventedModel.Fit(invented)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "location", f.Location, -2.9366199, 5e-6)
	near(t, "scale", f.Scale, 1.7277983, 5e-6)
	near(t, "lapse", f.Lapse, 0.02364863, 5e-7)
	near(t, "deviance", f.Deviance, 3.5246732, 5e-7)
	if len(f.Warnings) > 0 {
		t.Errorf("warnings: %q", f.Warnings)
	}
}

// A fit of data on the curve itself returns the curve, for every shape.
func TestFitRecoversTheCurve(t *testing.T) {
	for _, shape := range []Shape{Logistic, Normal, Weibull} {
		want := Curve{Shape: shape, Location: -52, Scale: 1.8, Guess: GuessThree, Lapse: .02}
		var points []Point
		const n = 10_000_000
		for level := -62.0; level <= -40; level += 2 {
			points = append(points, Point{level, Count{int(math.Round(n * want.At(level))), n}})
		}
		f, err := Model{Shape: shape, Guess: GuessThree, MaxLapse: .1}.Fit(points)
		if err != nil {
			t.Fatal(err)
		}
		near(t, shape.String()+" location", f.Location, want.Location, 1e-5)
		near(t, shape.String()+" scale", f.Scale, want.Scale, 1e-5)
		near(t, shape.String()+" lapse", f.Lapse, want.Lapse, 1e-6)
		near(t, shape.String()+" deviance", f.Deviance, 0, 1e-3)
	}
}

func TestFitRefusesWhatCannotBeFitted(t *testing.T) {
	if _, err := inventedModel.Fit(invented[:1]); !errors.Is(err, ErrFlat) {
		t.Errorf("one level: %v", err)
	}
	for name, points := range map[string][]Point{
		"count": {{0, Count{3, 2}}, {1, Count{1, 2}}},
		"level": {{math.NaN(), Count{1, 2}}, {1, Count{1, 2}}},
	} {
		if _, err := inventedModel.Fit(points); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
	if _, err := (Model{Guess: .5, MaxLapse: .5}).Fit(invented); err == nil {
		t.Error("rates that leave nothing to fit were accepted")
	}
}

// Always right or a clean step leaves the spread undetermined; the fit must
// say so rather than invent a slope.
func TestFitWarnsWhenUndetermined(t *testing.T) {
	step := []Point{{0, Count{3, 9}}, {1, Count{3, 9}}, {2, Count{9, 9}}, {3, Count{9, 9}}}
	f, err := Model{Guess: GuessThree, MaxLapse: .05}.Fit(step)
	if err != nil {
		t.Fatal(err)
	}
	if got := f.Profile(Spread, .95); got.Lo != 0 {
		t.Errorf("a step bounds the spread from under at %g", got.Lo)
	}
	right := []Point{{0, Count{9, 9}}, {1, Count{9, 9}}}
	if f, err = (Model{Guess: GuessThree}).Fit(right); err != nil {
		t.Fatal(err)
	}
	if got := f.Profile(Threshold, .95); !math.IsInf(got.Lo, -1) {
		t.Errorf("all right bounds the threshold from under at %g", got.Lo)
	}
}

// The profile interval by its definition: at its ends the log likelihood has
// fallen by half the χ² quantile (1.920729 at 95 %; common practice), with the
// nuisance parameters found by brute force here.
func TestProfileByDefinition(t *testing.T) {
	f, err := inventedModel.Fit(invented)
	if err != nil {
		t.Fatal(err)
	}
	got := f.Profile(Threshold, .95)
	for _, end := range []float64{got.Lo, got.Hi} {
		best := math.Inf(1)
		for scale := .02; scale < 8; scale *= 1.01 {
			for lapse := 0.0; lapse <= .1; lapse += .0005 {
				l, _ := f.loss(parameters{end, math.Log(scale), lapse})
				best = min(best, l)
			}
		}
		near(t, "fall of the likelihood", best+f.LogLikelihood, 1.920729, 2e-3)
	}
	if !got.Contains(f.Location) {
		t.Errorf("interval %+v leaves out its estimate", got)
	}
}

// The bootstrap and the profile must agree on a well-determined fit, and the
// Monte Carlo goodness of fit must be uniform enough for data from the model.
func TestBootstrapAgainstProfile(t *testing.T) {
	rng := seeded(t, 3)
	truth := Curve{Location: 0, Scale: 1.5, Guess: GuessThree, Lapse: .02}
	var points []Point
	for level := -6.0; level <= 8; level += 2 {
		points = append(points, Point{level, Count{binomial(rng, 200, truth.At(level)), 200}})
	}
	f, err := Model{Guess: GuessThree, MaxLapse: .1}.Fit(points)
	if err != nil {
		t.Fatal(err)
	}
	boot, profile := f.Bootstrap(rng, 1000, .95), f.Profile(Threshold, .95)
	near(t, "lower", boot.Threshold.Lo, profile.Lo, .15)
	near(t, "upper", boot.Threshold.Hi, profile.Hi, .15)
	if !boot.Spread.Contains(truth.Scale) {
		t.Errorf("spread %+v", boot.Spread)
	}
	if boot.DevianceP < .01 {
		t.Errorf("data from the model rejected: %g", boot.DevianceP)
	}
	for i := range points {
		points[i].Right = points[i].Trials * (1 + i%2*2) / 3
	}
	if f, err = (Model{Guess: GuessThree, MaxLapse: .1}).Fit(points); err != nil {
		t.Fatal(err)
	}
	if p := f.Bootstrap(rng, 200, .95).DevianceP; p > .01 {
		t.Errorf("a zigzag passes as a curve: %g", p)
	}
}
