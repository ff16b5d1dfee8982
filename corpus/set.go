package corpus

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
)

// maxManifest bounds manifest.json, in bytes.
const maxManifest = 64 << 20

// Read reads and checks the manifest of the set in folder dir. Every file that
// it names must lie inside the set.
func Read(dir string) (*Manifest, error) {
	path := filepath.Join(dir, ManifestFile)
	file, err := os.Open(path)
	if err != nil {
		if errors.Is(err, os.ErrNotExist) {
			return nil, fmt.Errorf("%s: not a rendered set: it holds no %s", dir, ManifestFile)
		}
		return nil, err
	}
	defer file.Close()
	var m Manifest
	decoder := json.NewDecoder(io.LimitReader(file, maxManifest))
	if err := decoder.Decode(&m); err != nil {
		return nil, fmt.Errorf("%s: byte %d: %w", path, decoder.InputOffset(), err)
	}
	if err := m.check(); err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return &m, nil
}

// Write writes the manifest into folder dir under a temporary name and renames
// it, so that a reader finds a whole one or none.
func (m *Manifest) Write(dir string) error {
	return WriteFile(filepath.Join(dir, ManifestFile), func(w io.Writer) error {
		encoder := json.NewEncoder(w)
		encoder.SetIndent("", "  ")
		return encoder.Encode(m)
	})
}

func (m *Manifest) check() error {
	if m.Schema != SchemaVersion {
		return fmt.Errorf("schema: found version %d, this program reads %d", m.Schema, SchemaVersion)
	}
	for i, item := range m.Items {
		if len(item.Renderings) != len(m.Rungs) {
			return fmt.Errorf("items[%d]: %d renderings for %d rungs", i, len(item.Renderings), len(m.Rungs))
		}
		for _, file := range item.Files() {
			if !filepath.IsLocal(filepath.FromSlash(file)) || strings.ContainsRune(file, '\\') {
				return fmt.Errorf("items[%d]: file %q does not lie inside the set", i, file)
			}
		}
	}
	return nil
}

// Files lists the item's WAV files, reference first.
func (item *Item) Files() []string {
	files := []string{item.Reference.File}
	for _, r := range item.Renderings {
		files = append(files, r.File, r.Residual.File)
	}
	return files
}

// WriteFile writes a file under a temporary name in the same folder and renames
// it to path when write and close have succeeded; otherwise nothing is left.
func WriteFile(path string, write func(io.Writer) error) (err error) {
	file, err := os.CreateTemp(filepath.Dir(path), ".partial-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			file.Close()
			os.Remove(file.Name())
		}
	}()
	if err := write(file); err != nil {
		return err
	}
	if err := file.Chmod(0o644); err != nil {
		return err
	}
	if err := file.Close(); err != nil {
		return err
	}
	return os.Rename(file.Name(), path)
}
