package quiescent

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"quietcross/dsp/level"
	"quietcross/reports/audibility"
	"quietcross/reports/view/format"
	"quietcross/stage"
)

// What the change of the number means: the same music through the same stages by the
// detection of ITU-R BS.1387, as this program once decided, and by the detection model.
//
//	QUIETCROSS_LONG=1 go test ./reports/quiescent -run BesideTheStandard -v -timeout 0
//
// prints the tables, which stand in dsp/hearing/README.md, and fails where they are not
// those.

// byStandard narrows the lowest current at which the standard's detection falls under
// one half, as the search does with its own number; false where it is over it throughout.
func byStandard(t *testing.T, c *climber, i int, f audibility.Finding) (float64, bool) {
	t.Helper()
	const half = 0.5
	var low, high float64
	for _, p := range f.Curve {
		if p.Standard == nil {
			continue
		}
		if high = p.Quiescent; p.Standard.Detection <= half {
			break
		}
		low, high = p.Quiescent, 0
	}
	for low > 0 && high > low*(1+audibility.DefaultTolerance) {
		middle := math.Sqrt(low * high)
		one := *c.options
		one.Sources = one.Sources[i : i+1]
		heard, err := one.hear(t.Context(), c.bench, middle)
		if err != nil {
			t.Fatal(err)
		}
		if heard[0].standard.Detection > half {
			low = middle
		} else {
			high = middle
		}
	}
	return high, high > 0 || low == 0
}

func TestBesideTheStandard(t *testing.T) {
	if os.Getenv("QUIETCROSS_LONG") == "" {
		t.Skip("QUIETCROSS_LONG=1 runs it")
	}
	readme, err := os.ReadFile("../../dsp/hearing/README.md")
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(string(readme), "\n")
	for _, name := range []string{"pair-12w", "pair-60w", "darlington-30w"} {
		t.Run(name, func(t *testing.T) {
			for _, line := range besides(t, name) {
				line = strings.ReplaceAll(line, "\u00a0", " ")
				t.Log(line)
				if !slices.Contains(lines, line) {
					t.Errorf("README.md has not the line %q", line)
				}
			}
		})
	}
}

// besides are the lines of a stage: a threshold each piece, and what follows.
func besides(t *testing.T, name string) []string {
	t.Helper()
	spec, err := stage.Lookup(name)
	if err != nil {
		t.Fatal(err)
	}
	o := asked(t, spec, "quiet-chord", "soft-wind", "struck-string")
	o.Units, o.Levels, o.standard = 0, []level.DB{-20}, true
	r, err := Run(t.Context(), o)
	if err != nil {
		t.Fatal(err)
	}
	c := climb(t, o)
	var list []string
	old := 0.0
	for i, f := range r.Findings {
		before, known := byStandard(t, c, i, f)
		text := amperes(before)
		if !known {
			before, text = math.Inf(1), "–"
		}
		old = max(old, before)
		now := "0 A"
		if f.Threshold != nil {
			now = fmt.Sprintf("%s (%s)", amperes(f.Threshold.Quiescent), f.Threshold.Interval)
		}
		list = append(list, fmt.Sprintf("| %s | %s | %s | %s |", name, f.Material, text, now))
	}
	return append(list, compare(t, c, r, old))
}

// compare is the line of a stage: the minimum that hearing asks for, by the old number and
// by the new, with the heat at rest, in the hottest air; and the current to set, which the
// test holds to lie over both, so that it is the same by either.
func compare(t *testing.T, c *climber, r *Result, old float64) string {
	t.Helper()
	now := r.Recommendation.Minimum
	var watts [2]float64
	for i, q := range []float64{old, now} {
		rung := Rung{Quiescent: q}
		if err := c.heat(&rung); err != nil {
			t.Fatal(err)
		}
		watts[i] = rung.Idle.Supply
	}
	set := r.Recommendation.Set
	if r.Recommendation.Why == ByHeat || set < old || set < now {
		t.Errorf("%s: %s is set by %q, and is not moved over what hearing asks for by either number", r.Stage, amperes(set), r.Recommendation.Why)
	}
	return fmt.Sprintf("| %s | %s to %s | %s to %s | %s |", r.Stage, amperes(old), amperes(now),
		format.Quantity(watts[0], "W"), format.Quantity(watts[1], "W"), amperes(set))
}
