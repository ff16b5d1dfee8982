package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
)

// TestBashCompletes lets bash complete command lines with the printed script.
func TestBashCompletes(t *testing.T) {
	bash := tool(t, "bash")
	dir := t.TempDir()
	self, err := os.Executable()
	if err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink(self, filepath.Join(dir, "quietcross")); err != nil { // see TestMain
		t.Fatal(err)
	}
	for line, want := range map[string]string{
		"quietcross re":               "render",
		"quietcross stage ins":        "inspect",
		"quietcross render --materia": "--material",
	} {
		script := `source <(quietcross completion bash)
COMP_WORDS=(` + line + `)
COMP_CWORD=$((${#COMP_WORDS[@]} - 1))
_quietcross
printf "%s\n" "${COMPREPLY[@]}"`
		cmd := exec.Command(bash, "-c", script)
		cmd.Env = append(os.Environ(), "PATH="+dir+string(os.PathListSeparator)+os.Getenv("PATH"))
		output, err := cmd.CombinedOutput()
		if err != nil {
			t.Fatalf("%s: %v\n%s", line, err, output)
		}
		if !strings.Contains(string(output), want) {
			t.Errorf("%s completes to %q, want %q in it", line, output, want)
		}
	}
}
