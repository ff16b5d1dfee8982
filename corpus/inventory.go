package corpus

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// inventoryFile lists what was written into a result's folder, with sizes and hashes.
const inventoryFile = ".written.json"

// mostNamed bounds how many foreign files an error names.
const mostNamed = 5

// inventory is the content of inventoryFile: the files by path inside the folder, with
// forward slashes.
type inventory struct {
	Files map[string]listed `json:"files"`
}

type listed struct {
	Size   int64  `json:"size"`
	SHA256 string `json:"sha256"`
}

// writeInventory lists the files of dir.
func writeInventory(dir string) error {
	list := inventory{Files: map[string]listed{}}
	err := filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		entry, err := describe(path)
		if err != nil {
			return err
		}
		list.Files[inner(dir, path)] = entry
		return nil
	})
	if err != nil {
		return err
	}
	return WriteFile(filepath.Join(dir, inventoryFile), func(w io.Writer) error {
		return json.NewEncoder(w).Encode(list)
	})
}

func inner(dir, path string) string {
	rel, err := filepath.Rel(dir, path)
	if err != nil {
		panic("corpus: " + err.Error()) // a path of a walk lies in its root
	}
	return filepath.ToSlash(rel)
}

func describe(path string) (listed, error) {
	file, err := os.Open(path)
	if err != nil {
		return listed{}, err
	}
	defer file.Close()
	hash := sha256.New()
	n, err := io.Copy(hash, file)
	return listed{n, hex.EncodeToString(hash.Sum(nil))}, err
}

func readInventory(dir string) (inventory, error) {
	path := filepath.Join(dir, inventoryFile)
	file, err := os.Open(path)
	if errors.Is(err, os.ErrNotExist) {
		return inventory{}, fmt.Errorf("%s: holds no list of what was written into it, so nothing in it is replaced; remove it yourself, or choose another folder", dir)
	}
	if err != nil {
		return inventory{}, err
	}
	defer file.Close()
	var list inventory
	if err := json.NewDecoder(io.LimitReader(file, maxManifest)).Decode(&list); err != nil {
		return list, fmt.Errorf("%s: %w", path, err)
	}
	return list, nil
}

// checkForeign refuses with [ErrForeign] a result's folder that holds anything that is
// not in its list or not as it was written.
func checkForeign(dir string) error {
	list, err := readInventory(dir)
	if err != nil {
		return err
	}
	folders := list.folders()
	var foreign []string
	err = filepath.WalkDir(dir, func(path string, e fs.DirEntry, err error) error {
		name := inner(dir, path)
		switch {
		case err != nil:
			return err
		case e.IsDir():
			if !folders[name] {
				foreign = append(foreign, name+"/")
				return filepath.SkipDir
			}
			return nil
		case name == inventoryFile:
			return nil
		}
		why, err := list.why(path, name, e)
		if why != "" {
			foreign = append(foreign, name+why)
		}
		return err
	})
	if err != nil || len(foreign) == 0 {
		return err
	}
	more := ""
	if n := len(foreign) - mostNamed; n > 0 {
		foreign, more = foreign[:mostNamed], fmt.Sprintf(" and %d more", n)
	}
	return fmt.Errorf("%s: %w: %s%s; move them elsewhere, or choose another folder", dir, ErrForeign, strings.Join(foreign, ", "), more)
}

// folders are the folders that the listed files need, the root among them.
func (l inventory) folders() map[string]bool {
	folders := map[string]bool{".": true}
	for name := range l.Files {
		for dir := parentOf(name); dir != "."; dir = parentOf(dir) {
			folders[dir] = true
		}
	}
	return folders
}

func parentOf(name string) string { return filepath.ToSlash(filepath.Dir(filepath.FromSlash(name))) }

// why says what makes a file foreign: " " that it is not listed, or that it was
// changed; nothing when it is as it was written.
func (l inventory) why(path, name string, e fs.DirEntry) (string, error) {
	want, ok := l.Files[name]
	if !ok || !e.Type().IsRegular() {
		return " (not written with it)", nil
	}
	info, err := e.Info()
	if err != nil {
		return "", err
	}
	if info.Size() == want.Size {
		got, err := describe(path)
		if err != nil || got == want {
			return "", err
		}
	}
	return " (changed since)", nil
}

// removeListed removes the listed files of dir, its list, and the folders that are
// empty then. It reports whether anything is left.
func removeListed(dir string) (left bool, err error) {
	list, err := readInventory(dir)
	if err != nil {
		return true, err
	}
	for name := range list.Files {
		if !filepath.IsLocal(filepath.FromSlash(name)) {
			return true, fmt.Errorf("%s: its list names %q, which is not in it", dir, name)
		}
		if err := os.Remove(filepath.Join(dir, filepath.FromSlash(name))); err != nil && !errors.Is(err, os.ErrNotExist) {
			return true, err
		}
	}
	for name := range list.folders() { // a folder is empty after those in it
		for at := name; at != "."; at = parentOf(at) {
			os.Remove(filepath.Join(dir, filepath.FromSlash(at))) // one that is not empty stays
		}
	}
	if entries, err := os.ReadDir(dir); err != nil || len(entries) > 1 {
		return true, err
	}
	if err := os.Remove(filepath.Join(dir, inventoryFile)); err != nil {
		return true, err
	}
	return false, os.Remove(dir)
}
