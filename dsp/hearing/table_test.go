package hearing

import (
	"flag"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

func fixed(x float64, digits int) string { return strconv.FormatFloat(x, 'f', digits, 64) }
func hertz(f float64) string             { return fixed(f, 0) + " Hz" }
func decibels(l float64) string          { return fixed(l, 0) + " dB" }
func milliseconds(s float64) string      { return fixed(1000*s, 0) + " ms" }

// residuals returns model less published for every condition of a set.
func (s set) residuals(t testing.TB, p predictor) []float64 {
	var list []float64
	for _, c := range s.conditions {
		list = append(list, c.measure(t, p)-c.published)
	}
	return list
}

func rms(x []float64) float64 {
	total := 0.0
	for _, v := range x {
		total += v * v
	}
	return math.Sqrt(total / float64(len(x)))
}

var update = flag.Bool("update", false, "rewrite the table of README.md")

// Marks around the table in README.md.
const (
	tableBegin = "<!-- table: go test ./dsp/hearing -run Table -update -->\n"
	tableEnd   = "<!-- end of table -->\n"
)

// TestTable holds every condition to its bar, [ThresholdError] to what is found, and
// README.md to both.
func TestTable(t *testing.T) {
	var table strings.Builder
	table.WriteString("| set | condition | published, dB | model, dB | error, dB | bar, dB |\n|---|---|---:|---:|---:|---:|\n")
	var masked []float64
	for _, s := range published() {
		r := s.residuals(t, model(standard))
		for i, c := range s.conditions {
			fmt.Fprintf(&table, "| %s | %s | %.2f | %.2f | %+.2f | %g |\n", s.name, c.name, c.published, c.published+r[i], r[i], c.tolerance)
			if !(math.Abs(r[i]) <= c.tolerance) {
				t.Errorf("%s, %s: %.2f, published %.2f: off by %+.2f, bar %g", s.name, c.name, c.published+r[i], c.published, r[i], c.tolerance)
			}
		}
		fmt.Fprintf(&table, "| **%s** | **rms** | | | **%.2f** | |\n", s.name, rms(r))
		if s.decides {
			masked = append(masked, r...)
		}
	}
	t.Log("\n" + table.String())
	if off := rms(masked) - float64(ThresholdError); math.Abs(off) > 0.05 {
		t.Errorf("the masked thresholds' rms error is %.3f dB, ThresholdError says %.2f", rms(masked), float64(ThresholdError))
	}
	// 95 % of a normal error lie within 1.96 times its rms (any table of it).
	low, high := Interval(2)
	for _, reach := range []float64{db(2 / low), db(high / 2)} {
		if math.Abs(reach/(1.959964*rms(masked))-1) > 0.03 {
			t.Errorf("an interval reaches %.2f dB, want 1.96 times %.2f dB", reach, rms(masked))
		}
	}
	checkReadme(t, table.String())
}

// checkReadme compares the table with README.md's, figures within 0.05 dB (processors
// round differently), or rewrites that.
func checkReadme(t *testing.T, table string) {
	data, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	head, rest, ok := strings.Cut(string(data), tableBegin)
	old, tail, ok2 := strings.Cut(rest, tableEnd)
	if !ok || !ok2 {
		t.Fatal("README.md has no table")
	}
	if *update {
		if err := os.WriteFile("README.md", []byte(head+tableBegin+table+tableEnd+tail), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	was, is := strings.Fields(old), strings.Fields(table)
	if len(was) != len(is) {
		t.Fatal("README.md has another table: -update rewrites it")
	}
	for i := range is {
		a, err1 := strconv.ParseFloat(strings.Trim(was[i], "*"), 64)
		b, err2 := strconv.ParseFloat(strings.Trim(is[i], "*"), 64)
		if was[i] != is[i] && (err1 != nil || err2 != nil || math.Abs(a-b) > 0.05) {
			t.Fatalf("README.md says %s, found %s: -update rewrites it", was[i], is[i])
		}
	}
}

// TestISOMask: nowhere is a tone beside a tone heard more than 6 dB under the mask of
// ISO/IEC 11172-3 Annex D, model 1 (quiet added as energy), at 45 to 85 dB SPL.
func TestISOMask(t *testing.T) {
	for _, l := range []float64{45, 65, 75, 85} {
		least, at := math.Inf(1), 0.0
		for _, f := range []float64{630, 700, 800, 900, 1100, 1250, 1500, 1750, 2000, 2500, 3000, 3250, 3500} {
			mask, ok := isoMask(1000, f, l)
			if !ok {
				continue
			}
			if over := besideTone(t, model(standard), l, f) - withQuiet(mask, f); over < least {
				least, at = over, f
			}
		}
		t.Logf("masker of %g dB: least %+.1f dB re the mask, at %g Hz", l, least, at)
		if least < -6 {
			t.Errorf("masker of %g dB SPL: a tone of %g Hz is heard %.1f dB under the mask", l, at, -least)
		}
	}
}
