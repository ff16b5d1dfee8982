package survey

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// touch makes files with their own path as content.
func touch(t *testing.T, dir string, names ...string) {
	t.Helper()
	for _, name := range names {
		path := filepath.Join(dir, filepath.FromSlash(name))
		if err := os.MkdirAll(filepath.Dir(path), 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(name), 0o666); err != nil {
			t.Fatal(err)
		}
	}
}

func link(t *testing.T, target, path string) {
	t.Helper()
	if err := os.Symlink(target, path); err != nil {
		t.Skip(err)
	}
}

func namesOf(files []File) []string {
	names := make([]string, len(files))
	for i, f := range files {
		names[i] = f.Name
	}
	return names
}

func TestListFolders(t *testing.T) {
	dir := t.TempDir()
	touch(t, dir, "b/2.flac", "b/1.WAV", "a.wav", "b/cover.jpg", "b/c/3.mp3", "out/4.wav", "other/"+StoreFile, "other/worst/5.wav")
	link(t, dir, filepath.Join(dir, "b", "loop"))
	link(t, filepath.Join(dir, "b"), filepath.Join(dir, "aa"))
	link(t, filepath.Join(dir, "a.wav"), filepath.Join(dir, "linked.wav"))
	files, err := List([]string{dir}, []string{filepath.Join(dir, "out")})
	if err != nil {
		t.Fatal(err)
	}
	want := []string{"a.wav", "b/1.WAV", "b/2.flac", "b/c/3.mp3", "linked.wav"}
	if got := namesOf(files); !slices.Equal(got, want) {
		t.Errorf("%q, want %q: links to folders that are listed already, %s's folder, the skipped and what is no sound left out", got, want, StoreFile)
	}
}

// A link to a folder outside the library is followed, and only once.
func TestListLinks(t *testing.T) {
	dir, outside := t.TempDir(), t.TempDir()
	touch(t, outside, "x.wav", "deep/y.wav")
	link(t, outside, filepath.Join(dir, "first"))
	link(t, outside, filepath.Join(dir, "second"))
	link(t, dir, filepath.Join(outside, "back"))
	files, err := List([]string{dir}, nil)
	if want := []string{"first/deep/y.wav", "first/x.wav"}; err != nil || !slices.Equal(namesOf(files), want) {
		t.Errorf("%q, %v, want %q", namesOf(files), err, want)
	}
}

func TestListFile(t *testing.T) {
	dir := t.TempDir()
	touch(t, dir, "music/a.wav", "b.flac")
	list := filepath.Join(dir, "music", "list.txt")
	if err := os.WriteFile(list, []byte("a.wav\r\n\n../b.flac\nnot there.wav\n"), 0o666); err != nil {
		t.Fatal(err)
	}
	files, err := List([]string{list}, nil)
	if want := []string{"../b.flac", "a.wav", "not there.wav"}; err != nil || !slices.Equal(namesOf(files), want) {
		t.Fatalf("%q, %v, want %q", namesOf(files), err, want)
	}
	if files[0].Path != filepath.Join(dir, "b.flac") {
		t.Errorf("a path relative to the list is %q", files[0].Path)
	}
	for content, said := range map[string]string{"a\x00b": "zero byte", strings.Repeat("a", longestLine+1): "too long"} {
		if err := os.WriteFile(list, []byte(content), 0o666); err != nil {
			t.Fatal(err)
		}
		if _, err := List([]string{list}, nil); err == nil || !strings.Contains(err.Error(), said) {
			t.Errorf("a list with %.10q: %v, want %q", content, err, said)
		}
	}
	if _, err := List([]string{filepath.Join(dir, "nothing")}, nil); err == nil {
		t.Error("a library that does not exist is listed")
	}
}

// A recording is known by content and name, not by where the library lies.
func TestIdentity(t *testing.T) {
	one, two := t.TempDir(), t.TempDir()
	touch(t, one, "a.wav", "b.wav")
	touch(t, two, "a.wav")
	id := func(dir, file, name string) string {
		got, err := File{name, filepath.Join(dir, file)}.identity()
		if err != nil {
			t.Fatal(err)
		}
		return got
	}
	a := id(one, "a.wav", "a.wav")
	if a != id(two, "a.wav", "a.wav") {
		t.Error("the same recording in another place is another")
	}
	if a == id(one, "a.wav", "c.wav") || a == id(one, "b.wav", "a.wav") {
		t.Error("another name or content is the same recording")
	}
}
