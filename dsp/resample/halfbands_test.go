package resample

import (
	"bytes"
	"flag"
	"fmt"
	"go/format"
	"math"
	"os"
	"testing"
)

var update = flag.Bool("update", false, "write halfbands.go anew")

// lengths are the numbers of outer coefficients of the stages, base rate first:
// the minimum that stop more than 140 dB.
var lengths = []int{48, 8, 5, 4, 3}

// TestHalfbandsAreTheDesign designs the committed coefficients anew.
func TestHalfbandsAreTheDesign(t *testing.T) {
	var designs [][]float64
	for j, m := range lengths {
		taps, err := equiripple(m, PassEdge/float64(int(2)<<j))
		if err != nil {
			t.Fatal(err)
		}
		designs = append(designs, taps)
	}
	if *update {
		writeHalfbands(t, designs)
		return
	}
	if len(halfbands) != len(designs) {
		t.Fatalf("%d stages, designed %d", len(halfbands), len(designs))
	}
	for j, taps := range designs {
		if len(halfbands[j]) != len(taps) {
			t.Fatalf("stage %d: %d coefficients, designed %d", j, len(halfbands[j]), len(taps))
		}
		for k := range taps {
			if e := math.Abs(halfbands[j][k] - taps[k]); e > 1e-12 {
				t.Errorf("stage %d, coefficient %d: off the design by %g", j, k, e)
			}
		}
	}
}

// TestHalfbandsStop140dB holds each stage to its figures by the direct sum of its
// response over a fine grid.
func TestHalfbandsStop140dB(t *testing.T) {
	for j, taps := range halfbands {
		pass := PassEdge / float64(int(2)<<j)
		var ripple, stop float64
		for i := range 20001 {
			w := 2 * math.Pi * pass * float64(i) / 20000
			ripple = max(ripple, math.Abs(response(taps, w)-1))
			stop = max(stop, math.Abs(response(taps, math.Pi-w)))
		}
		if db := 20 * math.Log10(stop); db > -140 {
			t.Errorf("stage %d: stop band %.1f dB", j, db)
		}
		if db := 20 * math.Log10(1+ripple); db > 1e-6 {
			t.Errorf("stage %d: ripple %.2g dB", j, db)
		}
	}
}

func response(taps []float64, w float64) float64 {
	sum := 0.5
	for k, h := range taps {
		sum += 2 * h * math.Cos(float64(2*k+1)*w)
	}
	return sum
}

func writeHalfbands(t *testing.T, designs [][]float64) {
	t.Helper()
	var b bytes.Buffer
	b.WriteString("package resample\n\n")
	b.WriteString("// Written by go test -run TestHalfbandsAreTheDesign -update; do not edit.\n\n")
	b.WriteString(`// halfbands holds the outer coefficients of the half-band filters of the cascade,
// the one next to the base rate first, the one nearest the centre first: tap k
// stands at ±(2k+1) samples, the centre is 1/2 and the other even offsets are 0.
// The bands are those of [PassEdge] at the filter's own, higher rate.
//
`)
	b.WriteString("//\tfilter's rate   taps   pass band to   ripple      stop band\n")
	for j, taps := range designs {
		pass := PassEdge / float64(int(2)<<j)
		worst := 0.0
		for i := range 20001 {
			worst = max(worst, math.Abs(passError(taps, 2*math.Pi*pass*float64(i)/20000)))
		}
		fmt.Fprintf(&b, "//\t%2d × base   %9d   %.7f      %.1e dB  %.1f dB\n",
			2<<j, 4*len(taps)-1, pass, 20*math.Log10(1+worst), 20*math.Log10(worst))
	}
	b.WriteString("var halfbands = [][]float64{\n")
	for _, taps := range designs {
		b.WriteString("{\n")
		for _, h := range taps {
			fmt.Fprintf(&b, "%.17g,\n", h)
		}
		b.WriteString("},\n")
	}
	b.WriteString("}\n")
	source, err := format.Source(b.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile("halfbands.go", source, 0o644); err != nil {
		t.Fatal(err)
	}
}
