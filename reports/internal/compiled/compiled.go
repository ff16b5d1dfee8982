// Package compiled gives tests the engine of the live page as the present sources make it.
//
// Compiling it for WebAssembly compiles much of Go's library and of this module once more,
// and packages that are tested at the same time would each do all of it where nothing is
// cached. So `make test` compiles it beforehand and names the folder in QUIETCROSS_ENGINE;
// where nothing is named a test program compiles its own, once.
package compiled

import (
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"sync"
	"testing"
)

// folder is where the engine of this test program is.
var folder = sync.OnceValues(func() (string, error) {
	if named := os.Getenv("QUIETCROSS_ENGINE"); named != "" {
		return named, nil
	}
	made, err := os.MkdirTemp("", "quietcross-engine-test-")
	if err != nil {
		return "", err
	}
	output, err := exec.Command("go", "run", "quietcross/reports/live/pack", made).CombinedOutput()
	if err != nil {
		return "", fmt.Errorf("go run pack: %w\n%s", err, output)
	}
	return made, nil
})

// Folder returns the path of the folder that holds the engine's two files.
func Folder(t *testing.T) string {
	t.Helper()
	path, err := folder()
	if err != nil {
		t.Fatal(err)
	}
	return path
}

// Files returns that folder.
func Files(t *testing.T) fs.FS {
	t.Helper()
	return os.DirFS(Folder(t))
}
