package main

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/urfave/cli/v2"

	"quietcross/stage/quantity"
)

// jsonFlag asks for output that programs read.
func jsonFlag() cli.Flag {
	return &cli.BoolFlag{Name: "json", Usage: "print JSON instead of a table"}
}

// printJSON writes a list for programs.
func printJSON(c *cli.Context, list any) error {
	encoder := json.NewEncoder(c.App.Writer)
	encoder.SetIndent("", "  ")
	return encoder.Encode(list)
}

// parseUnit returns a reader of quantities of one unit, such as "10mA".
func parseUnit(unit quantity.Unit) func(string) (float64, error) {
	return func(text string) (float64, error) { return quantity.Parse(text, unit) }
}

// parseDecibels reads a level such as "-20" or "-20dB".
func parseDecibels(text string) (float64, error) {
	return quantity.Parse(strings.TrimSuffix(strings.TrimSpace(text), "dB"), quantity.Number)
}

// maxRungs bounds a list, so that a slip of the finger does not ask for a
// million renderings.
const maxRungs = 100

// parseList reads a list such as "0,1mA,5mA" or "1mA..200mA/6,500mA". An
// element is a value, or a range FROM..TO/COUNT of COUNT values with both ends,
// spaced evenly or, if logarithmic is set, by equal ratios. parse reads one
// value.
func parseList(text string, parse func(string) (float64, error), logarithmic bool) ([]float64, error) {
	var values []float64
	for element := range strings.SplitSeq(text, ",") {
		element = strings.TrimSpace(element)
		from, rest, isRange := strings.Cut(element, "..")
		if !isRange {
			value, err := parse(element)
			if err != nil {
				return nil, err
			}
			values = append(values, value)
			continue
		}
		some, err := parseRange(from, rest, parse, logarithmic)
		if err != nil {
			return nil, fmt.Errorf("range %q: %w", element, err)
		}
		values = append(values, some...)
	}
	if len(values) > maxRungs {
		return nil, fmt.Errorf("list %q has %d values, at most %d are legal", text, len(values), maxRungs)
	}
	return values, nil
}

func parseRange(from, rest string, parse func(string) (float64, error), logarithmic bool) ([]float64, error) {
	to, countText, ok := strings.Cut(rest, "/")
	if !ok {
		return nil, fmt.Errorf("no count: write FROM..TO/COUNT, for example 1mA..200mA/6")
	}
	a, err := parse(strings.TrimSpace(from))
	if err != nil {
		return nil, err
	}
	b, err := parse(strings.TrimSpace(to))
	if err != nil {
		return nil, err
	}
	count, err := strconv.Atoi(strings.TrimSpace(countText))
	if err != nil || count < 2 || count > maxRungs {
		return nil, fmt.Errorf("count: found %q, legal is 2 to %d", countText, maxRungs)
	}
	if logarithmic && (a <= 0 || b <= 0) {
		return nil, fmt.Errorf("a range by equal ratios needs ends above zero; list 0 apart, as in 0,%s..%s/%d", nonZero(from), to, count)
	}
	return spaced(a, b, count, logarithmic), nil
}

// nonZero returns an example in place of a lower end of zero.
func nonZero(from string) string {
	if strings.Trim(from, "0.mAuV ") == "" {
		return "1mA"
	}
	return from
}

// spaced returns count values from a to b.
func spaced(a, b float64, count int, logarithmic bool) []float64 {
	values := make([]float64, count)
	for i := range values {
		t := float64(i) / float64(count-1)
		if logarithmic {
			values[i] = a * math.Pow(b/a, t)
		} else {
			values[i] = a + (b-a)*t
		}
	}
	values[count-1] = b
	return values
}
