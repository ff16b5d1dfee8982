package survey

import (
	"bufio"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// A library is listed before anything is read. A folder gives every file in it whose
// ending is that of a sound file, sorted by path; ordinary folders come first and links to
// folders after them, so that a folder that can be reached twice is taken once, under its
// own name, and no loop of links is followed. A list file gives the path in each of its
// lines, relative to the list. A recording's name is its path relative to the folder or
// the list, with forward slashes: the same on every machine.

// A File is a candidate of a library.
type File struct {
	// Name is the path relative to what was named, with forward slashes; Path opens it.
	Name, Path string
}

// endings are those of sound files. Lossy ones are among them so that they are refused
// by name and not passed over in silence.
var endings = []string{
	".wav", ".wave", ".rf64", ".bw64", ".flac",
	".aif", ".aiff", ".aac", ".m4a", ".mp3", ".ogg", ".oga", ".opus", ".wma", ".w64",
}

// List returns the candidates of a library in order of their names. Folders in skip are
// passed over, and so is every folder that holds a survey. The error is that of a root
// that cannot be read.
func List(roots, skip []string) ([]File, error) {
	l := &lister{seen: map[string]bool{}}
	for _, path := range skip {
		if real, err := filepath.EvalSymlinks(path); err == nil {
			l.seen[absolute(real)] = true
		}
	}
	for _, root := range roots {
		if err := l.root(root); err != nil {
			return nil, err
		}
	}
	slices.SortFunc(l.files, func(a, b File) int {
		return strings.Compare(a.Name+"\x00"+a.Path, b.Name+"\x00"+b.Path)
	})
	return slices.CompactFunc(l.files, func(a, b File) bool { return absolute(a.Path) == absolute(b.Path) && a.Name == b.Name }), nil
}

func absolute(path string) string {
	if a, err := filepath.Abs(path); err == nil {
		return a
	}
	return path
}

// A lister gathers files.
type lister struct {
	files []File
	seen  map[string]bool // folders, absolute and without links
	links []File          // to folders, of the root at hand
}

func (l *lister) root(root string) error {
	info, err := os.Stat(root)
	switch {
	case err != nil:
		return err
	case info.IsDir():
		if err := l.folder(root, "."); err != nil {
			return err
		}
	case isSound(root):
		l.files = append(l.files, File{filepath.Base(root), root})
	default:
		return l.list(root)
	}
	for len(l.links) > 0 { // each can lead to more
		links := l.links
		l.links = nil
		slices.SortFunc(links, func(a, b File) int { return strings.Compare(a.Name, b.Name) })
		for _, link := range links {
			if err := l.folder(link.Path, link.Name); err != nil {
				return err
			}
		}
	}
	return nil
}

func isSound(path string) bool {
	return slices.Contains(endings, strings.ToLower(filepath.Ext(path)))
}

// folder gathers the files of a folder and of those in it. A folder below the root that
// cannot be read becomes a candidate, so that it is told with the reason.
func (l *lister) folder(path, name string) error {
	real, err := filepath.EvalSymlinks(path)
	if err != nil {
		return l.unreadable(path, name, err)
	}
	if real = absolute(real); l.seen[real] {
		return nil
	}
	l.seen[real] = true
	if _, err := os.Stat(filepath.Join(path, StoreFile)); err == nil {
		return nil
	}
	entries, err := os.ReadDir(path)
	if err != nil {
		return l.unreadable(path, name, err)
	}
	for _, entry := range entries {
		below := File{filepath.ToSlash(filepath.Join(name, entry.Name())), filepath.Join(path, entry.Name())}
		if entry.Type()&fs.ModeSymlink != 0 {
			if info, err := os.Stat(below.Path); err == nil && info.IsDir() {
				l.links = append(l.links, below)
				continue
			}
		}
		if entry.IsDir() {
			if err := l.folder(below.Path, below.Name); err != nil {
				return err
			}
		} else if isSound(entry.Name()) {
			l.files = append(l.files, below)
		}
	}
	return nil
}

func (l *lister) unreadable(path, name string, err error) error {
	if name == "." {
		return err
	}
	l.files = append(l.files, File{name, path})
	return nil
}

// longestLine bounds a line of a list file, bytes.
const longestLine = 64 << 10

// list gathers the files that a list file names.
func (l *lister) list(path string) error {
	file, err := os.Open(path)
	if err != nil {
		return err
	}
	defer file.Close()
	lines := bufio.NewScanner(file)
	lines.Buffer(nil, longestLine)
	for number := 1; lines.Scan(); number++ {
		line := strings.TrimRight(lines.Text(), "\r")
		if line == "" {
			continue
		}
		if strings.ContainsRune(line, 0) {
			return fmt.Errorf("%s: line %d: found a zero byte; a list is text with one path a line, and a recording is named by an ending such as .wav or .flac", path, number)
		}
		name, target := line, line
		if !filepath.IsAbs(line) {
			target = filepath.Join(filepath.Dir(path), line)
		}
		l.files = append(l.files, File{filepath.ToSlash(filepath.Clean(name)), target})
	}
	if err := lines.Err(); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	return nil
}

// identity returns what a recording is known by: a hash of its content and its name. It
// reads the file to its end.
func (f File) identity() (string, error) {
	file, err := os.Open(f.Path)
	if err != nil {
		return "", err
	}
	defer file.Close()
	content := sha256.New()
	if _, err := io.Copy(content, file); err != nil {
		return "", err
	}
	name := sha256.Sum256([]byte(f.Name))
	content.Write(name[:])
	return fmt.Sprintf("%x", content.Sum(nil)[:16]), nil
}

// drawn returns a number that depends on text alone.
func drawn(text string) uint64 {
	sum := sha256.Sum256([]byte(text))
	return binary.BigEndian.Uint64(sum[:8])
}

// reason is an error as a result tells it: with the recording's name and not this
// machine's path.
func (f File) reason(err error) string {
	text := err.Error()
	if path := (*fs.PathError)(nil); errors.As(err, &path) && path.Path == f.Path {
		text = path.Err.Error()
	}
	text = strings.TrimPrefix(text, f.Path+": ")
	return strings.ToValidUTF8(strings.ReplaceAll(text, f.Path, f.Name), "\uFFFD")
}
