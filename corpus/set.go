package corpus

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"quietcross/dsp/whole"
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
	if info, err := file.Stat(); err != nil {
		return nil, err
	} else if info.Size() > maxManifest {
		return nil, fmt.Errorf("%s: %d bytes; legal are up to %d", path, info.Size(), maxManifest)
	}
	var m Manifest
	decoder := json.NewDecoder(file)
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

// WriteFile writes a file whole or not at all, as [whole.Write] does.
func WriteFile(path string, write func(io.Writer) error) error { return whole.Write(path, write) }
