package hearing

import (
	"fmt"
	"math"
	"strconv"
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

// TestTable prints the table of README.md.
func TestTable(t *testing.T) {
	var all []float64
	for _, s := range published() {
		r := s.residuals(t, model(standard))
		for i, c := range s.conditions {
			mark := ""
			if math.Abs(r[i]) > c.tolerance {
				mark = " over the bar"
			}
			fmt.Printf("| %s | %s | %.1f | %.1f | %+.1f%s |\n", s.name, c.name, c.published, c.published+r[i], r[i], mark)
		}
		fmt.Printf("| %s | rms | | | %.1f |\n", s.name, rms(r))
		all = append(all, r...)
	}
	fmt.Printf("| all | rms | | | %.2f |\n", rms(all))
}
