package render

import (
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"quietcross/dsp/level"
	"quietcross/stage"
	"quietcross/stage/quantity"
)

// folderName turns a source's name into one that is safe as a folder and in a
// link: letters, digits, dots, dashes and underscores.
func folderName(name string) string {
	name = strings.TrimSuffix(name, filepath.Ext(name))
	safe := strings.Map(func(r rune) rune {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '.', r == '_':
			return r
		}
		return '-'
	}, name)
	safe = strings.Trim(safe, "-.")
	if safe == "" {
		return "material"
	}
	return safe
}

// Files returns the files at the paths, each named by as much of the end of its path
// as tells it from the others, with forward slashes: by its base name, with the
// folder where another file has that name too, and so on.
func Files(paths []string) []File {
	files := make([]File, len(paths))
	for i, path := range paths {
		files[i] = File{Path: path, Name: distinctName(path, paths)}
	}
	return files
}

func distinctName(path string, paths []string) string {
	whole := filepath.ToSlash(filepath.Clean(path))
	parts := strings.Split(whole, "/")
	for n := 1; n < len(parts); n++ {
		end := strings.Join(parts[len(parts)-n:], "/")
		alike := func(path string) bool {
			other := filepath.ToSlash(filepath.Clean(path))
			return other != whole && strings.HasSuffix("/"+other, "/"+end)
		}
		if !slices.ContainsFunc(paths, alike) {
			return end
		}
	}
	return whole
}

// names hands out folder names, each once; folder names that differ in case
// alone count as the same.
type names struct{ taken map[string]bool }

func (n *names) unique(name string) string {
	if n.taken == nil {
		n.taken = map[string]bool{}
	}
	try := name
	for i := 2; n.taken[strings.ToLower(try)]; i++ {
		try = fmt.Sprintf("%s-%d", name, i)
	}
	n.taken[strings.ToLower(try)] = true
	return try
}

func levelName(l level.DB) string { return fmt.Sprintf("%gdB", float64(l)) }

// rungName names a rung in files, for example "03-quiescent-78.3mA"; its number
// keeps the files in order.
func rungName(i int, s stage.Setting) string {
	name := fmt.Sprintf("%02d-%s", i+1, s.Mode())
	switch s.Mode() {
	case "bias":
		name += "-" + brief(s.Value(), quantity.Volt)
	case "quiescent", "quiescent-warm", "held", "held-warm":
		name += "-" + brief(s.Value(), quantity.Ampere)
	}
	return name
}

// brief writes a value to four significant digits.
func brief(value float64, unit quantity.Unit) string {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(value, 'g', 4, 64), 64)
	if err != nil {
		panic("render: " + err.Error()) // FormatFloat writes what ParseFloat reads
	}
	return quantity.Format(rounded, unit)
}
