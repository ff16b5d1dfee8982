package report

import (
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"errors"
	"fmt"
	"html/template"
	"io"
	"os"
	"path/filepath"
	"strings"

	"quietcross/corpus"

	"quietcross/reports/view/plot"
	"quietcross/reports/view/schematic"
)

// Names inside a set.
const (
	File       = "report.html"
	ClipFolder = "clips"
)

//go:embed assets/page.tmpl
var pageTemplate string

//go:embed assets/page.css
var pageStyle string

//go:embed assets/player.js
var playerScript string

//go:embed assets/page.js
var pageScript string

var templates = template.Must(template.New("page").Parse(pageTemplate))

// WritePage writes the page of a report into the set in folder dir: report.html and
// the folder clips, each whole or not at all. The set's WAV files must be in
// dir, as they were for [Build].
func WritePage(dir string, r *Report) error {
	if err := writeClips(dir, r); err != nil {
		return err
	}
	return corpus.WriteFile(filepath.Join(dir, File), func(w io.Writer) error { return render(w, r) })
}

// render writes the page itself.
func render(w io.Writer, r *Report) error {
	return templates.Execute(w, newView(r))
}

// script is what runs in the page: the player and the controls, as one text
// whose hash the page's policy names.
func script() string { return "\"use strict\";\n" + playerScript + pageScript }

// policy is the page's content security policy: no source but the page itself,
// its one script, clips beside it and images inside it.
func policy() string {
	sum := sha256.Sum256([]byte(script()))
	return "default-src 'none'; img-src data:; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'; " +
		"script-src 'self' file: 'sha256-" + base64.StdEncoding.EncodeToString(sum[:]) + "'"
}

// style is the page's CSS, with rules by which a switch hides the traces of its
// rung or makes the others pale: on the screen only, so that print has all.
func style(rungs int) string {
	var b strings.Builder
	b.WriteString(plot.Style() + schematic.Style() + pageStyle + "@media screen{\n")
	for k := range rungs {
		fmt.Fprintf(&b, ".off-%d [data-rung=\"%d\"]{display:none}\n", k, k)
		fmt.Fprintf(&b, ".only-%d .trace:not([data-rung=\"%d\"]):not([data-rung=in]){opacity:.15}\n", k, k)
	}
	b.WriteString("}\n")
	return b.String()
}

// writeClips writes all clips into a temporary folder and swaps it with the
// one in place.
func writeClips(dir string, r *Report) (err error) {
	temporary, err := os.MkdirTemp(dir, ".clips-*")
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(temporary)) }()
	fresh := filepath.Join(temporary, "new")
	if err := os.Mkdir(fresh, 0o777); err != nil {
		return err
	}
	for i := range r.Items {
		path := filepath.Join(fresh, clipName(i))
		err := corpus.WriteFile(path, func(w io.Writer) error { return writeClip(w, dir, i, &r.Items[i], r.Seed) })
		if err != nil {
			return err
		}
	}
	place := filepath.Join(dir, ClipFolder)
	if err := os.Rename(place, filepath.Join(temporary, "old")); err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	return os.Rename(fresh, place)
}
