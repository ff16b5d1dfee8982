package statistics

import (
	"math"
	"strings"
	"testing"
)

// The prior for decibels is what its comment says: slopes of the odd-one-out curve, (1 -
// 1/3)/4 over the spread at their steepest, from 33 to 2 % a decibel; spreads in equal
// ratios, with one or more beyond those that people have on either side (0.7 to 4 dB,
// common practice); thresholds as far beyond the stimuli as twice the widest of these; and
// lapses up to 5 % (the most that Wichmann and Hill 2001 allow a trained listener, from
// memory).
func TestDecibelPriorIsWide(t *testing.T) {
	p := DecibelPrior(-60, -40)
	a, err := NewPlacement(p)
	if err != nil {
		t.Fatal(err)
	}
	first, last := p.Spreads[0], p.Spreads[len(p.Spreads)-1]
	if steep, flat := 100*(1-GuessThree)/4/first, 100*(1-GuessThree)/4/last; math.Round(steep) != 33 || math.Round(flat) != 2 {
		t.Errorf("slopes of %g to %g %% a decibel", steep, flat)
	}
	ratio := p.Spreads[1] / first
	if ratio > 1.4 || ratio < 1.3 || first*ratio > 0.7 || last/ratio < 4 {
		t.Errorf("spreads %v", p.Spreads)
	}
	for i, s := range p.Spreads {
		if math.Abs(s/first/math.Pow(ratio, float64(i))-1) > 1e-9 {
			t.Errorf("spread %d is %g, not in equal ratios", i, s)
		}
	}
	if lowest, highest := a.thresholds[0], a.thresholds[len(a.thresholds)-1]; lowest != -60-2*4 || highest != -40+2*4 {
		t.Errorf("thresholds from %g to %g dB", lowest, highest)
	}
	if p.Step != 1 || len(p.Lapses) != 3 || p.Lapses[0] != 0 || p.Lapses[1] != 0.02 || p.Lapses[2] != 0.05 {
		t.Errorf("%+v", p)
	}
}

// What is legal at its ends, and beyond.
func TestLegalEnds(t *testing.T) {
	for name, c := range map[string]struct {
		spoil func(*Prior)
		said  string
	}{
		"2000 levels":      {func(p *Prior) { p.Lo = p.Hi - 2000 + 2*p.Margin }, ""},
		"2001 levels":      {func(p *Prior) { p.Lo = p.Hi - 2001 + 2*p.Margin }, "more than 2000"},
		"guesses of 0.9":   {func(p *Prior) { p.Guess = 0.9 }, ""},
		"guesses of 1":     {func(p *Prior) { p.Guess = 1 }, "guess rate"},
		"guesses of -0.01": {func(p *Prior) { p.Guess = -0.01 }, "guess rate"},
	} {
		p := DecibelPrior(-60, -40)
		c.spoil(&p)
		if err := p.validate(); (err == nil) != (c.said == "") || err != nil && !strings.Contains(err.Error(), c.said) {
			t.Errorf("%s: %v", name, err)
		}
	}
	fit, err := inventedModel.Fit(invented)
	if err != nil {
		t.Fatal(err)
	}
	placement, err := NewPlacement(DecibelPrior(-60, -40))
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		call   func()
		panics bool
	}{
		"probability 1":     {func() { checkProbability("p", 1) }, false},
		"probability 1.01":  {func() { checkProbability("p", 1.01) }, true},
		"a profile of 1":    {func() { fit.Profile(Threshold, 1) }, true},
		"a profile of 0.99": {func() { fit.Profile(Threshold, 0.99) }, false},
		"a threshold of 1":  {func() { placement.Threshold(1) }, true},
		"39 runs":           {func() { fit.Bootstrap(seeded(t, 3), 39, 0.5) }, true},
		"40 runs":           {func() { fit.Bootstrap(seeded(t, 3), 40, 0.5) }, false},
	} {
		func() {
			defer func() {
				if got := recover() != nil; got != c.panics {
					t.Errorf("%s: panics %v", name, got)
				}
			}()
			c.call()
		}()
	}
	if _, err := MinimumTrials(0.5, 1.01, 0.05, 0.8); err == nil {
		t.Error("a listener right with 1.01")
	}
}

// A difference of d standard deviations takes (1.960 + 0.842)²/d² listeners for a power of
// 0.8 at 0.05, where they are many: up to ten thousand are looked for.
func TestEdgesOfSearches(t *testing.T) {
	for count, found := range map[float64]bool{9000: true, 11_000: false} {
		n, err := ListenersForMean(2.8016/math.Sqrt(count), 1, 0.05, 0.8)
		if (err == nil) != found || found && math.Abs(float64(n)/count-1) > 0.01 {
			t.Errorf("%g listeners: %d, %v", count, n, err)
		}
	}
}

// Twenty listeners are what BS.1116-3 asks for; one listener has no deviation among
// listeners and no interval of their mean, two have.
func TestEdgesOfPanels(t *testing.T) {
	for n, want := range map[int]bool{19: true, 20: false} {
		values, counts := make([]float64, n), make([]Count, n)
		for i := range values {
			values[i], counts[i] = 1, Count{12, 16}
		}
		if got := len(Summarise(values, 0.95).Warnings) > 0; got != want {
			t.Errorf("%d grades: warned %v", n, got)
		}
		if s, err := PoolCounts(counts, 0.5, 0.95); err != nil || len(s.Warnings) > 0 != want {
			t.Errorf("%d counts: %v, %q", n, err, s.Warnings)
		}
		if p, err := Pool(values, values, 0.95); err != nil || len(p.Warnings) > 0 != want {
			t.Errorf("%d thresholds: %v, %q", n, err, p.Warnings)
		}
	}
	for n, known := range map[int]bool{1: false, 2: true} {
		values := []float64{1, 3}[:n]
		p, err := Pool(values, []float64{1, 1}[:n], 0.95)
		if err != nil || math.IsNaN(p.Between) == known || math.IsInf(p.Interval.Hi, 1) == known {
			t.Errorf("%d thresholds: %v, %+v", n, err, p)
		}
		s, err := PoolCounts([]Count{{9, 16}, {15, 16}}[:n], 0.5, 0.95)
		if err != nil || math.IsNaN(s.Between) == known {
			t.Errorf("%d counts: %v, %+v", n, err, s)
		}
	}
}

// Grades lie on steps of a tenth: 4.96 is 5.0, and a tenth less than the reference counts.
// With two items to a round the anchor is the lower by lot in half of the rounds.
func TestGradesAreTenths(t *testing.T) {
	for anchor, want := range map[float64]float64{4.9: 0.5, 4.96: 1, 4.86: 0.5} {
		if got := exactRounds([]Round{{Reference: 5, Anchor: anchor, All: []float64{5, anchor}}}); math.Abs(got-want) > 1e-12 {
			t.Errorf("5.0 and %g: %g, want %g", anchor, got, want)
		}
	}
}

// Sensitivities are found up to 20 at least as far as proportions tell them apart.
func TestHighSensitivities(t *testing.T) {
	for _, d := range []float64{3, 8, 12} {
		if right := TriangleCorrect(d); right < 1 {
			if got := TriangleSensitivity(right); math.Abs(got/d-1) > 0.02 {
				t.Errorf("d' of %g comes back as %g", d, got)
			}
		}
	}
}

// A fit is looked for from a width of the levels below them to one above, with spreads from
// a thousandth to ten times it; what ends within a thousandth of a bound is warned of.
func TestEdgesOfTheBox(t *testing.T) {
	b := newBox([]Point{{Level: -50}, {Level: -40, Count: Count{1, 2}}}, 0.1)
	for i, want := range [][2]float64{{-60, -30}, {math.Log(0.01), math.Log(100)}, {0, 0.1}} {
		if math.Abs(b.lo[i]-want[0]) > 1e-12 || math.Abs(b.hi[i]-want[1]) > 1e-12 {
			t.Errorf("parameter %d from %g to %g, want %v", i, b.lo[i], b.hi[i], want)
		}
	}
	b = box{hi: parameters{1, 1, 1}}
	for at, want := range map[float64]int{0.9e-3: 1, 1.1e-3: 0, 1 - 0.9e-3: 1, 1 - 1.1e-3: 0} {
		if got := b.warnings(parameters{at, 0.5, 0}); len(got) != want {
			t.Errorf("threshold at %g of its range: %q", at, got)
		}
		if got := b.warnings(parameters{0.5, at, 0}); len(got) != want {
			t.Errorf("spread at %g of its range: %q", at, got)
		}
	}
}

// A listener right with 0.5 + d takes (1.645 + 0.842)²/(2d)² trials for a power of 0.8 at
// 0.05, where they are many: up to ten thousand are looked for, and up to a million of
// several listeners together.
func TestEdgesOfManyTrials(t *testing.T) {
	right := func(trials float64) float64 { return 0.5 + (1.6449+0.8416)/2/math.Sqrt(trials) }
	for trials, found := range map[float64]bool{9000: true, 11_000: false} {
		if p, err := MinimumTrials(GuessTwo, right(trials), 0.05, 0.8); (err == nil) != found || found && math.Abs(float64(p.Trials)/trials-1) > 0.02 {
			t.Errorf("%g trials: %+v, %v", trials, p, err)
		}
	}
	for trials, found := range map[float64]bool{0.9e6: true, 1.1e6: false} {
		if n, err := ListenersForCount(10_000, GuessTwo, right(trials), 0.05, 0.8); (err == nil) != found || found && math.Abs(1e4*float64(n)/trials-1) > 0.02 {
			t.Errorf("%g trials of 10,000 each: %d listeners, %v", trials, n, err)
		}
	}
}

// 5 right of 10 are told with 0.187 to 0.813, the interval of 95 % of Clopper and Pearson
// (1934, their chart).
func TestIntervalOfAVerdict(t *testing.T) {
	if i := Judge(Count{5, 10}, GuessTwo, 0.05, 0.8, 0.8).Interval; math.Abs(i.Lo-0.187) > 5e-4 || math.Abs(i.Hi-0.813) > 5e-4 {
		t.Errorf("%+v", i)
	}
}

// Steps are coarse until the second reversal, and two reversals have one midpoint.
func TestEdgesOfATrack(t *testing.T) {
	s := NewStaircase(Rule{Down: 1, Step: 1, Coarse: 4})
	for i, want := range []float64{-4, -8, -4, -5, -4} {
		if s.Answer(i != 2 && i != 4); s.Level() != want {
			t.Errorf("after answer %d: %g, want %g", i+1, s.Level(), want)
		}
		if got := len(s.Midpoints()); got != max(0, len(s.Reversals())-1) {
			t.Errorf("%d reversals have %d midpoints", len(s.Reversals()), got)
		}
	}
	for n, panics := range map[int]bool{0: true, 1: false} {
		for i := range 4 {
			func() {
				defer func() {
					if got := recover() != nil; got != panics {
						t.Errorf("%d for argument %d: panics %v", n, i, got)
					}
				}()
				a := []int{1, 1, 1, 2}
				if a[i] = n; i == 3 {
					a[i]++
				}
				GuessTracks(seeded(t, 3), Rule{Down: 1, Step: 1}, GuessTwo, a[0], a[1], a[2])
				PowerOfMean(a[3], 1, 1, 0.05)
			}()
		}
	}
}

// The limit of the profile likelihood is 0.8 times that of large samples for a listener of a
// spread up to 0.72 dB and 2.85 times from 4 dB on, and between them as the logarithm goes
// (found by simulation, which TestPlacementRecoversThresholds repeats).
func TestEdgesOfInflation(t *testing.T) {
	for spread, want := range map[float64]float64{0.4: 0.8, 0.71: 0.8, math.Sqrt(0.72 * 4): (0.8 + 2.85) / 2, 4.1: 2.85, 8: 2.85} {
		if got := inflation(spread); math.Abs(got-want) > 1e-9 {
			t.Errorf("%g dB: %g, want %g", spread, got, want)
		}
	}
	if a, b := inflation(0.73), inflation(3.9); a <= 0.8 || b >= 2.85 {
		t.Errorf("just inside: %g and %g", a, b)
	}
}
