package corpus

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// fill returns a function that puts one file into a folder.
func fill(name, content string) func(dir string) error {
	return func(dir string) error { return os.WriteFile(filepath.Join(dir, name), []byte(content), 0o644) }
}

func content(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// TestFolder makes, refuses and replaces a folder; nothing temporary is left.
func TestFolder(t *testing.T) {
	parent := t.TempDir()
	path := filepath.Join(parent, "deep", "set")
	if err := (Folder{Path: path, Mark: "mark"}).Create(fill("mark", "first")); err != nil {
		t.Fatal(err)
	}
	if err := (Folder{Path: path, Mark: "mark"}).Create(fill("mark", "second")); !errors.Is(err, ErrExists) {
		t.Errorf("over an existing one: error %v, want ErrExists", err)
	}
	failure := errors.New("the disk is full")
	if err := (Folder{Path: path, Mark: "mark", Replace: true}).Create(func(string) error { return failure }); !errors.Is(err, failure) {
		t.Errorf("a failure: error %v", err)
	}
	if got := content(t, filepath.Join(path, "mark")); got != "first" {
		t.Errorf("after a refusal and a failure the folder holds %q, want what was there", got)
	}
	if err := (Folder{Path: path, Mark: "mark", Replace: true}).Create(fill("mark", "third")); err != nil {
		t.Fatal(err)
	}
	if got := content(t, filepath.Join(path, "mark")); got != "third" {
		t.Errorf("replaced, the folder holds %q", got)
	}
	if err := (Folder{Path: path, Mark: "other", Replace: true}).Create(fill("other", "x")); err == nil || !strings.Contains(err.Error(), "holds no other") {
		t.Errorf("over a folder of another kind: error %v", err)
	}
	left, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		t.Fatal(err)
	}
	if len(left) != 1 {
		t.Errorf("left beside it: %v", left)
	}
}

// demoFolder makes a result of two files, with a note taker.
func demoFolder(t *testing.T) (f Folder, notes *[]string) {
	t.Helper()
	notes = &[]string{}
	f = Folder{Path: filepath.Join(t.TempDir(), "set"), Mark: "mark", Replace: true, Note: func(s string) { *notes = append(*notes, s) }}
	if err := f.Create(two); err != nil {
		t.Fatal(err)
	}
	return f, notes
}

func two(dir string) error {
	if err := os.Mkdir(filepath.Join(dir, "a"), 0o755); err != nil {
		return err
	}
	return errors.Join(fill("mark", "one")(dir), fill("a/1.wav", "sound")(dir))
}

func put(t *testing.T, path, content string) {
	t.Helper()
	if err := errors.Join(os.MkdirAll(filepath.Dir(path), 0o755), os.WriteFile(path, []byte(content), 0o644)); err != nil {
		t.Fatal(err)
	}
}

// TestForeignFilesAreNotReplaced puts into a result what the program did not write:
// nothing is lost, and the refusal names it.
func TestForeignFilesAreNotReplaced(t *testing.T) {
	for name, content := range map[string]string{
		"panel.sqlite": "answers", "a/song.wav": "source", "notes/today.txt": "notes",
		"mark": "two", "a/1.wav": "longer sound", // changed, one with its size kept
	} {
		f, _ := demoFolder(t)
		put(t, filepath.Join(f.Path, name), content)
		if err := f.Create(two); !errors.Is(err, ErrForeign) || !strings.Contains(err.Error(), strings.Split(name, "/")[0]) || !strings.Contains(err.Error(), "move them elsewhere") {
			t.Errorf("%s: error %v", name, err)
		}
		b, err := os.ReadFile(filepath.Join(f.Path, name))
		if err != nil || string(b) != content {
			t.Errorf("%s: %q %v", name, b, err)
		}
	}
	f, _ := demoFolder(t)
	for i := range 7 { // of many, five are named
		put(t, filepath.Join(f.Path, "foreign"+strings.Repeat("x", i)), "notes")
	}
	if err := f.Create(two); !errors.Is(err, ErrForeign) || strings.Count(err.Error(), "foreign") != 5 || !strings.Contains(err.Error(), "and 2 more") {
		t.Errorf("seven foreign files: error %v", err)
	}
	f, _ = demoFolder(t)
	if err := os.Symlink(t.TempDir(), filepath.Join(f.Path, "link")); err != nil {
		t.Fatal(err)
	}
	if err := f.Create(two); !errors.Is(err, ErrForeign) {
		t.Errorf("a link: error %v", err)
	}
	f, _ = demoFolder(t)
	if err := os.Remove(filepath.Join(f.Path, inventoryFile)); err != nil {
		t.Fatal(err)
	}
	if err := f.Create(two); err == nil || !strings.Contains(err.Error(), "remove it yourself") {
		t.Errorf("a result without a list: error %v", err)
	}
}

// TestFileThatComesMeanwhileStays adds a file while the new result is being made.
func TestFileThatComesMeanwhileStays(t *testing.T) {
	f, _ := demoFolder(t)
	late := filepath.Join(f.Path, "panel.sqlite")
	err := f.Create(func(dir string) error { put(t, late, "answers"); return two(dir) })
	if got := content(t, late); !errors.Is(err, ErrForeign) || got != "answers" {
		t.Errorf("error %v, the file holds %q", err, got)
	}
	// And one that comes after the last check: it is kept beside the new result.
	f, notes := demoFolder(t)
	old := f.Path + "-old"
	if err := os.Rename(f.Path, old); err != nil {
		t.Fatal(err)
	}
	put(t, filepath.Join(old, "a", "late.txt"), "answers")
	if err := f.discard(old); err != nil {
		t.Fatal(err)
	}
	if got := content(t, filepath.Join(f.Path+".kept-1", "a", "late.txt")); got != "answers" || len(*notes) != 1 {
		t.Errorf("kept %q, noted %q", got, *notes)
	}
}

// TestRemainsAreCleared leaves what killed runs leave.
func TestRemainsAreCleared(t *testing.T) {
	f, notes := demoFolder(t)
	parent := filepath.Dir(f.Path)
	put(t, filepath.Join(parent, ".set.partial-1", "half.wav"), "half")
	if err := f.Create(two); err != nil || len(*notes) != 1 || !strings.Contains((*notes)[0], "cleared away") {
		t.Errorf("error %v, noted %q", err, *notes)
	}
	aside := filepath.Join(parent, ".set.partial-2.old")
	if err := os.Rename(f.Path, aside); err != nil {
		t.Fatal(err)
	}
	f.Replace = false
	if err := f.Create(two); !errors.Is(err, ErrExists) || len(*notes) != 2 || !strings.Contains((*notes)[1], "restored") {
		t.Errorf("error %v, noted %q", err, *notes)
	}
	left, err := os.ReadDir(parent)
	if err != nil || len(left) != 1 {
		t.Errorf("left: %v %v", left, err)
	}
	// A run that is at work is no remains.
	err = Folder{Path: f.Path + "2", Mark: "mark"}.Create(func(dir string) error {
		other := Folder{Path: f.Path + "2", Mark: "mark"}
		return errors.Join(other.clearStale(), two(dir))
	})
	if err != nil {
		t.Error(err)
	}
}

// TestHeldSetIsNotReplaced holds a set as a panel does.
func TestHeldSetIsNotReplaced(t *testing.T) {
	f := Folder{Path: filepath.Join(t.TempDir(), "set"), Mark: ManifestFile, Replace: true}
	one := fill(ManifestFile, "{}")
	if err := f.Create(one); err != nil {
		t.Fatal(err)
	}
	first, err := Hold(f.Path)
	if err != nil {
		t.Fatal(err)
	}
	second, err := Hold(f.Path)
	if err != nil {
		t.Fatal(err)
	}
	for _, release := range []func() error{first, second} {
		if err := f.Create(one); !errors.Is(err, ErrInUse) || !strings.Contains(err.Error(), "open panel") {
			t.Errorf("held: error %v", err)
		}
		if err := release(); err != nil {
			t.Error(err)
		}
	}
	err = f.Create(func(dir string) error {
		if _, err := Hold(f.Path); !errors.Is(err, ErrInUse) {
			t.Errorf("while it is replaced: error %v", err)
		}
		return one(dir)
	})
	if err != nil {
		t.Error(err)
	}
}

// TestInside follows links and dots.
func TestInside(t *testing.T) {
	dir := t.TempDir()
	put(t, filepath.Join(dir, "set", "a", "x.wav"), "x")
	put(t, filepath.Join(dir, "set2", "x.wav"), "x")
	link := filepath.Join(dir, "link")
	if err := os.Symlink(filepath.Join(dir, "set"), link); err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string]bool{
		"set/a/x.wav": true, "link/a/x.wav": true, "set": true, "set2/x.wav": false, "set/../set2/x.wav": false, ".": false,
	} {
		for _, out := range []string{filepath.Join(dir, "set"), link} {
			if got := Inside(out, filepath.Join(dir, path)); got != want {
				t.Errorf("%s in %s: %v", path, out, got)
			}
		}
	}
}
