package plot

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

func TestEnvelopeIsShortAndKeepsPeaks(t *testing.T) {
	const n = 1_000_000
	rng := rand.New(rand.NewPCG(7, 7))
	xs, ys := make([]float64, n), make([]float64, n)
	for i := range xs {
		xs[i] = float64(i)
		ys[i] = rng.Float64() - 0.5
	}
	ys[123_456], ys[654_321] = 0.97, -0.99
	f := &Figure{X: Axis{Lo: 0, Hi: n}, Y: Axis{Lo: -1, Hi: 1}}
	a := area{w: 350, h: 200}
	lines := f.envelope(xs, ys, a)
	if len(lines) != 1 {
		t.Fatalf("%d polylines", len(lines))
	}
	if got, most := len(lines[0]), 2*351; got > most {
		t.Errorf("%d points, at most %d", got, most)
	}
	for _, i := range []int{123_456, 654_321} {
		x, y := f.at(xs[i], ys[i], a)
		if !holds(lines[0], point{x, y}) {
			t.Errorf("the peak at %d is lost", i)
		}
	}
	if size := len(encode(lines)); size > 351*14 {
		t.Errorf("%d bytes of path", size)
	}
}

func holds(line []point, want point) bool {
	return slices.Contains(line, want)
}

// Every column of the envelope has to hold exactly the minimum and the maximum
// value of the points that fall into it: found here the slow way.
func TestEnvelopeAgainstSlowSearch(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 2))
	xs, ys := make([]float64, 5000), make([]float64, 5000)
	for i := range xs {
		xs[i] = 20 * math.Pow(1000, float64(i)/4999)
		ys[i] = rng.NormFloat64()
	}
	f := &Figure{X: Axis{Lo: 20, Hi: 20000, Log: true}, Y: Axis{Lo: -5, Hi: 5}}
	a := area{w: 100, h: 100}
	minimum, maximum := map[int]float64{}, map[int]float64{}
	for i := range xs {
		px, py := f.at(xs[i], ys[i], a)
		col := int(math.Floor(px))
		if _, ok := minimum[col]; !ok {
			minimum[col], maximum[col] = py, py
		}
		minimum[col] = min(minimum[col], py)
		maximum[col] = max(maximum[col], py)
	}
	lines := f.envelope(xs, ys, a)
	got := map[int][]float64{}
	for _, p := range lines[0] {
		col := int(math.Floor(p.x))
		got[col] = append(got[col], p.y)
	}
	if len(got) != len(minimum) {
		t.Fatalf("%d columns, want %d", len(got), len(minimum))
	}
	for col, y := range got {
		if min(y[0], y[len(y)-1]) != minimum[col] || max(y[0], y[len(y)-1]) != maximum[col] || len(y) > 2 {
			t.Errorf("column %d: %v, want %g and %g", col, y, minimum[col], maximum[col])
		}
	}
}

func TestEnvelopeBreaksAtGapsAndSurvivesSilence(t *testing.T) {
	f := &Figure{X: Axis{Lo: 0, Hi: 4}, Y: Axis{Lo: -100, Hi: 0}}
	lines := f.envelope([]float64{0, 1, 2, 3, 4}, []float64{-10, math.Inf(-1), math.NaN(), -20, -30}, area{w: 40, h: 100})
	if len(lines) != 2 || len(lines[0]) != 2 || len(lines[1]) != 2 {
		t.Fatalf("lines %v", lines)
	}
	if strings.ContainsAny(encode(lines), "IN") {
		t.Errorf("path %q", encode(lines))
	}
}

func TestOnlyTheVisiblePartIsDrawn(t *testing.T) {
	f := &Figure{X: Axis{Lo: 10, Hi: 20}, Y: Axis{Lo: 0, Hi: 100}}
	xs, ys := make([]float64, 101), make([]float64, 101)
	for i := range xs {
		xs[i], ys[i] = float64(i), float64(i)
	}
	line := f.envelope(xs, ys, area{w: 1000, h: 100})[0]
	if len(line) != 13 { // 10 to 20 and one neighbour on either side
		t.Errorf("%d points, want 13", len(line))
	}
}

// decode reads path data back into points: the reverse of encode, written
// apart from it.
func decode(t *testing.T, d string) [][]point {
	t.Helper()
	var lines [][]point
	var at point
	for d != "" {
		op := d[0]
		d = d[1:]
		var v [2]float64
		for i := range map[byte]int{'M': 2, 'l': 2, 'h': 1, 'v': 1}[op] {
			d = strings.TrimPrefix(d, " ")
			end := 1
			for end < len(d) && strings.ContainsRune("0123456789.", rune(d[end])) {
				end++
			}
			if _, err := fmt.Sscanf(d[:end], "%g", &v[i]); err != nil {
				t.Fatalf("path %q: %v", d, err)
			}
			d = d[end:]
		}
		switch op {
		case 'M':
			at = point{v[0], v[1]}
			lines = append(lines, nil)
		case 'l':
			at = point{at.x + v[0], at.y + v[1]}
		case 'h':
			at.x += v[0]
		case 'v':
			at.y += v[0]
		}
		lines[len(lines)-1] = append(lines[len(lines)-1], at)
	}
	return lines
}

func TestPathKeepsPlacesToATenth(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	var line []point
	for range 300 {
		line = append(line, point{rng.Float64() * 440, rng.Float64()*300 - 20})
	}
	got := decode(t, encode([][]point{line}))
	if len(got) != 1 || len(got[0]) != len(line) {
		t.Fatalf("%d polylines", len(got))
	}
	for i, p := range got[0] {
		if math.Abs(p.x-line[i].x) > 0.0501 || math.Abs(p.y-line[i].y) > 0.0501 {
			t.Fatalf("point %d: %v, want %v", i, p, line[i])
		}
	}
}
