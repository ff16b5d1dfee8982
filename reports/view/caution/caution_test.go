package caution

import (
	"slices"
	"strings"
	"testing"
)

// TestEverySubjectIsSaid looks for the words that a reader at a bench or with
// headphones needs, and for whom they defer to.
func TestEverySubjectIsSaid(t *testing.T) {
	for _, c := range []struct {
		name  string
		texts []string
		words []string
	}{
		{"listening", Listening(), []string{"volume low", "harms hearing", "tweeter", "local rules"}},
		{"bench", Bench(), []string{
			"burn skin", "Mains voltage kills", "stay charged", "dummy load", "from its minimum", "current-limited",
			"thermal runaway", "local codes", "qualified people", "of a model",
		}},
		{"measuring", Measuring(), []string{"burn skin", "Mains voltage kills", "stay charged", "dummy load", "tweeter"}},
	} {
		text := Paragraph(c.texts)
		for _, word := range c.words {
			if !strings.Contains(text, word) {
				t.Errorf("%s: %q is not said", c.name, word)
			}
		}
	}
}

// TestWrapped holds lines to a terminal's width and loses no word.
func TestWrapped(t *testing.T) {
	all := slices.Concat(Listening(), Bench())
	text := Wrapped(all)
	if got, want := strings.Fields(text), strings.Fields("Caution: "+Paragraph(all)); !slices.Equal(got, want) {
		t.Errorf("words changed: %q", text)
	}
	for line := range strings.Lines(text) {
		line = strings.TrimSuffix(line, "\n")
		if len(line) > 80 || strings.TrimSpace(line) != line || line == "" {
			t.Errorf("line %q", line)
		}
	}
	longest := 0
	for line := range strings.Lines(Wrapped([]string{strings.Repeat("1234 ", 50)})) {
		longest = max(longest, len(strings.TrimSuffix(line, "\n")))
	}
	if longest < 76 {
		t.Errorf("lines of %d characters", longest)
	}
}
