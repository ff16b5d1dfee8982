package main

import (
	"go/ast"
	"go/parser"
	"go/token"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strconv"
	"testing"

	"quietcross/corpus/signal"
)

// TestMaximum bounds sums whose peaks are known by calculus: one sine; sin t + sin 2t,
// whose derivative cos t + 2 cos 2t vanishes at cos t = (√33 - 1)/8; and three sines
// that meet at their crests. The bound is never below, and above by what forty samples to a
// cycle leave at most.
func TestMaximum(t *testing.T) {
	cos := (math.Sqrt(33) - 1) / 8
	sin := math.Sqrt(1 - cos*cos)
	quarter := math.Pi / 2
	for _, c := range []struct {
		hz     []int
		phases []float64
		want   float64
	}{
		{[]int{7}, []float64{0.3}, 1},
		{[]int{1, 2}, []float64{0, 0}, sin + 2*sin*cos},
		{[]int{3, 7, 11}, []float64{quarter, quarter, quarter}, 3},
	} {
		if got := maximum(c.hz, c.phases); got < c.want-1e-12 || got > c.want/math.Cos(math.Pi/40) {
			t.Errorf("%v: %.6f, want %.6f or just above", c.hz, got, c.want)
		}
	}
}

// TestSlope holds the direction of the descent to differences of the mean that it is
// said to be the slope of.
func TestSlope(t *testing.T) {
	hz, phases, q := []int{2, 3, 5}, []float64{0.2, 1.1, 2.7}, 6.0
	mean := func(phases []float64) float64 {
		p := newPeriod(hz, 64)
		p.sum(phases)
		sum := 0.0
		for _, v := range p.wave {
			sum += math.Pow(math.Abs(v), q+1)
		}
		return sum / float64(len(p.wave))
	}
	p := newPeriod(hz, 64)
	got, want := make([]float64, 3), make([]float64, 3)
	p.slope(got, phases, p.sum(phases), q)
	square := 0.0
	for i := range want {
		const h = 1e-5
		up, down := append([]float64(nil), phases...), append([]float64(nil), phases...)
		up[i] += h
		down[i] -= h
		want[i] = (mean(up) - mean(down)) / (2 * h)
		square += want[i] * want[i] / 3
	}
	for i := range want {
		if math.Abs(got[i]-want[i]/math.Sqrt(square)) > 1e-6 {
			t.Errorf("phase %d: %g, differences give %g", i, got[i], want[i]/math.Sqrt(square))
		}
	}
}

// TestSearch finds phases of eight equal tones whose peak is under that of nine in ten
// of a hundred random draws, and near half of what equal phases reach. The constants of
// the descent suit the multitone: see TestCommittedBound.
func TestSearch(t *testing.T) {
	hz := []int{1, 2, 3, 4, 5, 6, 7, 8}
	found := maximum(hz, search(hz))
	if better := drawnBelow(hz, found); better > 10 {
		t.Errorf("peak %.3f, %d random draws of 100 have less", found, better)
	}
	if found > 0.52*float64(len(hz)) {
		t.Errorf("peak %.3f", found)
	}
}

// drawnBelow counts those of a hundred random phases whose peak is below the given one.
func drawnBelow(hz []int, peak float64) int {
	random := rand.New(rand.NewPCG(3, 9))
	below := 0
	phases := make([]float64, len(hz))
	p := newPeriod(hz, 5)
	for range 100 {
		for i := range phases {
			phases[i] = 2 * math.Pi * random.Float64()
		}
		if p.sum(phases) < peak {
			below++
		}
	}
	return below
}

// TestCommittedBound evaluates the committed phases anew: the committed peak bounds
// them, and is rounded up to the next thousandth only; no random
// draw has a lower peak.
func TestCommittedBound(t *testing.T) {
	m, err := signal.Lookup("multitone-31")
	if err != nil {
		t.Fatal(err)
	}
	var hz []int
	var phases []float64
	for _, tone := range m.Tones {
		hz, phases = append(hz, int(tone.Frequency)), append(phases, tone.Phase)
	}
	text, err := os.ReadFile(filepath.Join("..", "phases.go"))
	if err != nil {
		t.Fatal(err)
	}
	if got, want := maximum(hz, phases), committedPeak(t, text); got > want || got < want-0.001 {
		t.Errorf("peak %.6f, committed as %g", got, want)
	}
	if below := drawnBelow(hz, maximum(hz, phases)); below != 0 {
		t.Errorf("%d random draws of 100 have a lower peak", below)
	}
}

// TestSourceIsGo parses what would be written for two tones.
func TestSourceIsGo(t *testing.T) {
	if peak := committedPeak(t, source([]signal.Tone{{Frequency: 2}, {Frequency: 3}})); peak < 1.5 || peak > 2.001 {
		t.Errorf("peak %g", peak)
	}
}

// committedPeak returns the value of the constant multitonePeak in a Go file.
func committedPeak(t *testing.T, text []byte) float64 {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), "phases.go", text, 0)
	if err != nil {
		t.Fatal(err)
	}
	peak := math.NaN()
	ast.Inspect(file, func(n ast.Node) bool {
		if spec, ok := n.(*ast.ValueSpec); ok && spec.Names[0].Name == "multitonePeak" {
			peak, err = strconv.ParseFloat(spec.Values[0].(*ast.BasicLit).Value, 64)
		}
		return true
	})
	if err != nil {
		t.Fatal(err)
	}
	return peak
}
