package main

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

func TestParseList(t *testing.T) {
	parse := func(s string) (float64, error) { return strconv.ParseFloat(s, 64) }
	for _, c := range []struct {
		text        string
		logarithmic bool
		want        []float64
	}{
		{"0", false, []float64{0}},
		{"0, 1,5", false, []float64{0, 1, 5}},
		{"1..3/3", false, []float64{1, 2, 3}},
		{"0,1..100/3,7", true, []float64{0, 1, 10, 100, 7}},
		{"-40..0/5", false, []float64{-40, -30, -20, -10, 0}},
	} {
		got, err := parseList(c.text, parse, c.logarithmic)
		if err != nil {
			t.Fatalf("%q: %v", c.text, err)
		}
		if len(got) != len(c.want) {
			t.Fatalf("%q: got %v, want %v", c.text, got, c.want)
		}
		for i := range got {
			if math.Abs(got[i]-c.want[i]) > 1e-12*math.Abs(c.want[i]) {
				t.Errorf("%q: got %v, want %v", c.text, got, c.want)
			}
		}
	}
}

func TestParseListRefusals(t *testing.T) {
	parse := func(s string) (float64, error) { return strconv.ParseFloat(s, 64) }
	for text, want := range map[string]string{
		"":            "invalid syntax",
		"1,,2":        "invalid syntax",
		"1..2":        "FROM..TO/COUNT",
		"1..2/1":      "legal is 2 to 100",
		"1..2/x":      "legal is 2 to 100",
		"0..2/4":      "list 0 apart",
		"1..2/99,1,2": "at most 100",
	} {
		_, err := parseList(text, parse, true)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: got error %v, want one that says %q", text, err, want)
		}
	}
}
