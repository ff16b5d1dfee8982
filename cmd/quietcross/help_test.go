package main

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"quietcross/corpus/render"
)

// TestHelpTellsOneDefault: a flag has one default in its line or none.
func TestHelpTellsOneDefault(t *testing.T) {
	for name := range endCommands(newApp(nil, nil, false).Commands, "") {
		var out bytes.Buffer
		if err := newApp(&out, &out, false).Run(append(append([]string{"quietcross"}, strings.Fields(name)...), "--help")); err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(out.String()) {
			if strings.Count(line, "(default:") > 1 {
				t.Errorf("%s: two defaults in %q", name, strings.TrimSpace(line))
			}
		}
	}
}

// TestHelpTellsTheOversampling asks for what render does without the flag.
func TestHelpTellsTheOversampling(t *testing.T) {
	var out bytes.Buffer
	if err := newApp(&out, &out, false).Run([]string{"quietcross", "render", "--help"}); err != nil {
		t.Fatal(err)
	}
	want := fmt.Sprintf("(default: %d static, %d dynamic)", render.StaticOversample, render.DynamicOversample)
	if !strings.Contains(strings.Join(strings.Fields(out.String()), " "), want) {
		t.Errorf("render --help does not say %q", want)
	}
}
