// Package live writes a page in which a stage plays: any sound passes through it while
// its bias, level, load and temperature are moved, and is seen while it is heard. The
// page is one file that asks for nothing else.
//
// The stage in the page is the program itself: the package engine, compiled by Go for
// WebAssembly and kept in the page in compressed form. A program holds that engine if
// `make build` made it; one from a plain `go build` does not, and refuses to write a
// page with a sentence that says how to get it.
package live

import (
	"embed"
	"encoding/json"
	"html/template"
	"io"
	"io/fs"
	"math"
	"strings"

	"quietcross/dsp/hearing"
	"quietcross/reports/live/engine"
	"quietcross/reports/view/caution"
	"quietcross/reports/view/format"
	"quietcross/stage"
)

//go:embed assets
var assets embed.FS

// Options say what to make.
type Options struct {
	// Stage is the stage that the page begins with.
	Stage stage.Spec
	// Engine holds the files of an engine; nil stands for the program's own.
	Engine fs.FS
}

// view is what the template writes.
type view struct {
	Style  template.CSS
	Script template.JS
	// Cautions.
	Listening string
	Bench     string
	// For which predictions hold.
	Playback, Room string

	Music    []engine.Piece
	Tests    []engine.Piece
	Pieces   template.JS
	Stages   []stage.Named
	Start    string // the built-in stage to begin with
	Own      string // or a stage file
	OwnTitle string
	Opening  template.JS
	// Oversample is by how much the rate is raised for a law.
	Oversample int
	Engine     template.HTML // and all that runs it
}

// Write writes the page.
func Write(w io.Writer, o Options) error {
	parts, err := NewParts(o.Engine)
	if err != nil {
		return err
	}
	v := view{
		Style: parts.Style + template.CSS(asset("live.css")), Script: parts.Script + template.JS(asset("live.js")), Engine: parts.Engine,
		Stages:    stage.Builtin(),
		Listening: caution.Paragraph(caution.Listening()), Bench: caution.Paragraph(caution.Bench()),
		Playback: format.Fixed(float64(hearing.DefaultSPL), 0) + "\u00a0dB SPL", Room: format.Number(hearing.DefaultRoomNR, 2),
	}
	if err := v.begin(o.Stage); err != nil {
		return err
	}
	if err := v.open(); err != nil {
		return err
	}
	if err := v.offer(engine.Pieces()); err != nil {
		return err
	}
	page, err := template.New("live").Parse(asset("live.tmpl"))
	if err != nil {
		return err
	}
	return page.Execute(w, v)
}

// asset returns a part of the page.
func asset(name string) string {
	data, err := assets.ReadFile("assets/" + name)
	if err != nil {
		panic("live: " + err.Error()) // it is compiled in
	}
	return string(data)
}

// begin chooses the stage to begin with: a built-in one by its name, any other by its
// file.
func (v *view) begin(spec stage.Spec) error {
	var file strings.Builder
	if err := spec.Write(&file); err != nil {
		return err
	}
	if known, err := stage.Lookup(spec.Name); err == nil {
		var same strings.Builder
		if err := known.Write(&same); err != nil {
			return err
		}
		if same.String() == file.String() {
			v.Start = spec.Name
			return nil
		}
	}
	v.Own, v.OwnTitle = file.String(), spec.Title
	return nil
}

// opening is the stage that the page begins with, solved, so that it need not wait for
// the engine to show it.
type opening struct {
	Sheet    *engine.Sheet    `json:"sheet"`
	Own      bool             `json:"own"`
	Solution *engine.Solution `json:"solution"`
	Portrait *engine.Portrait `json:"portrait"`
	Law      []byte           `json:"law"`
}

// open solves the stage to begin with as the page's engine would.
func (v *view) open() (err error) {
	o, file := opening{Own: v.Own != ""}, v.Start
	if o.Own {
		file = v.Own
	}
	var solver engine.Solver
	if o.Sheet, err = solver.Describe(file); err != nil {
		return err
	}
	v.Oversample = o.Sheet.Oversample.Static
	if o.Solution, err = solver.Solve(engine.Request{
		File: o.Sheet.File, Load: o.Sheet.Load, Ambient: math.Round(o.Sheet.Ambient), Mode: "quiescent", Value: o.Sheet.Start, Drive: o.Sheet.Drive,
	}); err != nil {
		return err
	}
	if o.Portrait, err = o.Solution.Portrait(nil); err != nil {
		return err
	}
	if o.Law, err = o.Solution.Law.MarshalBinary(); err != nil {
		return err
	}
	data, err := json.Marshal(o)
	v.Opening = template.JS(data)
	return err
}

// offer lists the built-in material.
func (v *view) offer(pieces []engine.Piece) error {
	for _, p := range pieces {
		if p.Test {
			v.Tests = append(v.Tests, p)
		} else {
			v.Music = append(v.Music, p)
		}
	}
	data, err := json.Marshal(pieces)
	v.Pieces = template.JS(data)
	return err
}
