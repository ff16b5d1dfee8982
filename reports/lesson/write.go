package lesson

import (
	"embed"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"html/template"
	"io"
	"math"
	"strconv"

	"quietcross/reports/live/engine"
	"quietcross/reports/view/caution"
	"quietcross/reports/view/format"
	"quietcross/reports/view/schematic"
)

//go:embed assets
var assets embed.FS

// asset returns a part of the page.
func asset(name string) string {
	data, err := assets.ReadFile("assets/" + name)
	if err != nil {
		panic("lesson: " + err.Error()) // it is compiled in
	}
	return string(data)
}

// view is what the template writes.
type view struct {
	Title            string
	Style            template.CSS
	Script           template.JS
	Listening, Bench string
	Piece            string
	Pieces           []engine.Piece
	OwnName          string
	OwnData          template.HTML
	Playback, Room   string
	Steps            []stepView
	Last             int
	Data             template.JS
	Engine           template.HTML
}

type stepView struct {
	ID, Title string
	Number    int
	Text      []template.HTML
	Graph     template.HTML
	Table     *table
	Figures   []string
	Drawings  []drawingView
	Sounds    []soundView
	Slider    bool
	Question  string
	Answer    string
}

type drawingView struct {
	Scene int
	SVG   template.HTML
}

type soundView struct {
	Key         int
	Label, Says string
}

// The data of the page's script.

type pageData struct {
	Excerpt excerpt        `json:"excerpt"`
	Pieces  []engine.Piece `json:"pieces"`
	Heard   any            `json:"heard"`
	Own     string         `json:"own,omitempty"`
	Scenes  []sceneData    `json:"scenes"`
	places  map[*state]int // of the scenes
	Steps   []stepData     `json:"steps"`
}

// A scene is a stage at a bias.
type sceneData struct {
	Request   engine.Request   `json:"request"`
	Portrait  *engine.Portrait `json:"portrait"`
	Bias      float64          `json:"bias"`
	Quiescent float64          `json:"quiescent"`
	Memory    bool             `json:"memory"`
	Gain      float64          `json:"gain"` // the maximum size of the incremental gain, with its sign
}

type stepData struct {
	ID      string      `json:"id"`
	Figure  string      `json:"figure"`
	Level   float64     `json:"level"` // of the sine of the figures at rest, re the drive
	First   int         `json:"first"`
	Maximum float64     `json:"maximum,omitempty"` // of the bias slider, V
	Sounds  []soundData `json:"sounds"`
}

type soundData struct {
	Scene     int             `json:"scene"`
	Controls  engine.Controls `json:"controls"`
	Predicted bool            `json:"predicted"` // it has a prediction
}

// Write writes the page.
func (l *Lesson) Write(w io.Writer) error {
	parts := l.parts
	v := view{
		Title:     l.thread.spec.Title,
		Style:     parts.Style + template.CSS(schematic.Style()+asset("lesson.css")),
		Script:    parts.Script + template.JS(asset("lesson.js")),
		Engine:    parts.Engine,
		Listening: caution.Paragraph(caution.Listening()), Bench: caution.Paragraph(caution.Bench()),
		Playback: format.Fixed(float64(l.options.Heard.Playback), 0) + "\u00a0dB SPL", Room: format.Number(l.options.Heard.RoomNR, 2),
		Last: len(l.steps),
	}
	data := pageData{Excerpt: l.thread.excerpt, Heard: l.options.Heard, places: map[*state]int{}}
	for _, p := range engine.Pieces() {
		switch {
		case p.Name == piece:
			v.Piece = p.Title
		case !p.Test:
			v.Pieces = append(v.Pieces, p)
		}
	}
	data.Pieces = v.Pieces
	if own := l.options.Own; own != nil {
		v.OwnName, data.Own = own.Name, own.Name
		v.OwnData = template.HTML(base64.StdEncoding.EncodeToString(own.Data))
	}
	for i := range l.steps {
		if err := l.add(&v, &data, &l.steps[i]); err != nil {
			return err
		}
	}
	text, err := json.Marshal(data)
	if err != nil {
		return err
	}
	v.Data = template.JS(text)
	page, err := template.New("lesson").Parse(asset("lesson.tmpl"))
	if err != nil {
		return err
	}
	return page.Execute(w, v)
}

// add puts a step into the page.
func (l *Lesson) add(v *view, data *pageData, s *step) error {
	shown := stepView{
		ID: s.id, Title: s.title, Number: s.number, Graph: s.graph, Table: s.table, Slider: s.slider,
		Figures: []string{figureTime, figureTransfer, figureCurrents, figureGain}, Question: s.question, Answer: s.answer,
	}
	if s.graph != "" {
		shown.Figures = append(shown.Figures, figureGraph)
	}
	if s.table != nil {
		shown.Figures = append(shown.Figures, "table")
	}
	for _, t := range s.text {
		if t != "" {
			shown.Text = append(shown.Text, template.HTML(t))
		}
	}
	d := stepData{ID: s.id, Figure: s.figure, Level: float64(s.level), First: s.first}
	if s.slider {
		d.Maximum = l.thread.over.evaluation.Rung.Bias
	}
	drawn := map[int]bool{}
	draw := func(x *state) error {
		scene, err := data.scene(x)
		if err != nil || drawn[scene] {
			return err
		}
		drawn[scene] = true
		svg, err := x.drawn(fmt.Sprintf("circuit-%s-%d", s.id, scene), s.ways)
		shown.Drawings = append(shown.Drawings, drawingView{scene, svg})
		return err
	}
	if s.drawing != nil {
		if err := draw(s.drawing); err != nil {
			return err
		}
	}
	for i := range s.sounds {
		x := &s.sounds[i]
		scene, err := data.scene(x.state)
		if err != nil {
			return err
		}
		if s.drawing == nil {
			if err := draw(x.state); err != nil {
				return err
			}
		}
		shown.Sounds = append(shown.Sounds, soundView{i + 1, x.label, x.says()})
		d.Sounds = append(d.Sounds, soundData{scene, x.controls(), x.verdict != nil})
	}
	v.Steps = append(v.Steps, shown)
	data.Steps = append(data.Steps, d)
	return nil
}

// scene returns the index of a state among the page's scenes.
func (d *pageData) scene(x *state) (int, error) {
	if found, ok := d.places[x]; ok {
		return found, nil
	}
	portrait, err := x.solution.Portrait(nil)
	if err != nil {
		return 0, err
	}
	scene := sceneData{
		Request: x.request, Portrait: portrait,
		Bias: x.solution.Bias, Quiescent: x.solution.Quiescent, Memory: x.stage.HasMemory(),
	}
	for i, in := range portrait.In {
		if g := portrait.Gain[i]; math.Abs(in) <= x.ladder.Drive() && math.Abs(g) > math.Abs(scene.Gain) {
			scene.Gain = g
		}
	}
	for _, list := range append(append([][]float64{portrait.In, portrait.Out, portrait.Gain, portrait.Supply, portrait.Load}, portrait.Current...), portrait.Power...) {
		shorten(list)
	}
	d.Scenes = append(d.Scenes, scene)
	d.places[x] = len(d.Scenes) - 1
	return d.places[x], nil
}

// shorten leaves five digits, which is more than a figure shows.
func shorten(list []float64) {
	for i, v := range list {
		list[i], _ = strconv.ParseFloat(strconv.FormatFloat(v, 'g', 5, 64), 64)
	}
}
