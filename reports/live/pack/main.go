// Command pack compiles the engine of the live page and puts it, compressed, into the
// folder that is named, with the support script of the Go that compiled it:
//
//	go run ./reports/live/pack FOLDER
//
// Equal sources and an equal Go make equal files. It needs nothing but Go.
package main

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"

	"quietcross/corpus"
	"quietcross/reports/live"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: pack FOLDER")
		os.Exit(2)
	}
	if err := pack(os.Args[1]); err != nil {
		fmt.Fprintln(os.Stderr, "pack:", err)
		os.Exit(1)
	}
}

func pack(folder string) error {
	engine, err := compile()
	if err != nil {
		return err
	}
	root, err := goCommand("env", "GOROOT")
	if err != nil {
		return err
	}
	support, err := os.ReadFile(filepath.Join(strings.TrimSpace(root), "lib", "wasm", live.SupportFile))
	if err != nil {
		return err
	}
	for name, data := range map[string][]byte{live.EngineFile: engine, live.SupportFile: support} {
		if err := corpus.WriteFile(filepath.Join(folder, name), func(w io.Writer) error {
			_, err := w.Write(data)
			return err
		}); err != nil {
			return err
		}
	}
	return nil
}

// compile builds the engine and compresses it.
func compile() ([]byte, error) {
	folder, err := os.MkdirTemp("", "quietcross-engine-")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(folder)
	path := filepath.Join(folder, "engine.wasm")
	if _, err := goCommand("build", "-trimpath", "-buildvcs=false", "-ldflags", "-s -w", "-o", path, "quietcross/reports/live/engine/wasm"); err != nil {
		return nil, err
	}
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	var packed bytes.Buffer
	w, err := gzip.NewWriterLevel(&packed, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	if _, err := w.Write(data); err != nil {
		return nil, err
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return packed.Bytes(), nil
}

// goCommand runs the go command for WebAssembly and returns what it prints.
func goCommand(args ...string) (string, error) {
	command := exec.Command("go", args...)
	command.Env = append(os.Environ(), "GOOS=js", "GOARCH=wasm")
	var complaint strings.Builder
	command.Stderr = &complaint
	output, err := command.Output()
	if err != nil {
		return "", fmt.Errorf("go %s: %w\n%s", strings.Join(args, " "), err, complaint.String())
	}
	return string(output), nil
}
