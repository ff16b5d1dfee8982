package lesson

import (
	"bytes"
	_ "embed"
	"encoding/json"
	"html/template"
	"io"

	"quietcross/dsp/level"
	"quietcross/reports/view/caution"
	"quietcross/reports/view/format"
	"quietcross/reports/view/plot"
	"quietcross/reports/view/schematic"
	"quietcross/stage/device"
)

//go:embed assets/lesson.tmpl
var pageText string

//go:embed assets/lesson.css
var pageStyle string

//go:embed assets/scope.js
var scopeScript string

//go:embed assets/sound.js
var soundScript string

//go:embed assets/lesson.js
var pageScript string

var pageTemplate = template.Must(template.New("lesson").Parse(pageText))

// The page's cautions.
func (view) Hearing() string { return caution.Hearing }
func (view) Bench() []string { return caution.Bench() }

// view is what the template writes.
type view struct {
	Title    string
	Style    template.CSS
	Script   template.JS
	Steps    []stepView
	Ladder   ladderView
	Myths    []myth
	Scenes   template.JS
	Sounds   []template.JS
	Loud     string
	Quiet    string
	Playback string
}

type stepView struct {
	Number   int
	Scene    int
	Title    string
	Stage    string
	Followed bool
	Text     []string
	Question string
	Answer   []string
	Drawing  template.HTML
	Power    template.HTML
}

type ladderView struct {
	Scene   int
	Stage   string
	Name    string
	Drawing template.HTML
	Start   int
	Last    int
	Hushed  string
	MakeUp  float64
	Rows    []rungView
}

type rungView struct {
	Label     string
	Optimum   bool
	Watts     string
	Junction  string
	Detection string
	Quiet     string
	Loud      string
}

// Write writes the page.
func (l *Lesson) Write(w io.Writer) error {
	v := view{
		Title: l.title, Style: template.CSS(plot.Style() + schematic.Style() + pageStyle),
		Script: template.JS(scopeScript + soundScript + pageScript),
		Myths:  l.myths, Loud: format.DB(loud), Quiet: format.DB(quiet), Playback: format.DB(l.ladder.playback),
	}
	for i, s := range l.steps {
		v.Steps = append(v.Steps, stepView{
			Number: i + 1, Scene: i, Title: s.title, Stage: s.spec.Title, Followed: s.followed,
			Text: s.text, Question: s.question, Answer: s.answer, Drawing: s.drawing, Power: s.power,
		})
	}
	v.Ladder = l.ladder.view(len(l.steps))
	var err error
	if v.Scenes, err = l.scenes(); err != nil {
		return err
	}
	if v.Sounds, err = l.sounds(); err != nil {
		return err
	}
	return pageTemplate.Execute(w, v)
}

func (l *ladder) view(scene int) ladderView {
	v := ladderView{
		Scene: scene, Stage: l.spec.Title, Name: l.spec.Name, Drawing: l.drawing,
		Start: l.start(), Last: len(l.rungs) - 1, Hushed: down(hushed), MakeUp: -float64(hushed),
	}
	nearest := l.nearestOptimum()
	for i := range l.rungs {
		r := &l.rungs[i]
		row := rungView{
			Label: r.label(), Optimum: i == nearest, Watts: watts(r.watts), Junction: "too hot to run", Detection: "–",
			Quiet: format.Percent(r.scene.thd(hushed), 2), Loud: format.Percent(r.scene.thd(0), 2),
		}
		if r.junction > 0 {
			row.Junction = format.Fixed(r.junction-device.ZeroCelsius, 0) + "\u00a0°C"
		}
		if r.known {
			row.Detection = chance(r.detection)
		}
		v.Rows = append(v.Rows, row)
	}
	return v
}

// nearestOptimum returns the rung at the optimum, -1 where there is none within
// a few percent.
func (l *ladder) nearestOptimum() int {
	for i, r := range l.rungs {
		if l.optimum > 0 && r.quiescent > 0.97*l.optimum && r.quiescent < 1.03*l.optimum {
			return i
		}
	}
	return -1
}

// sceneView is a scene of the page: one law, or one for each rung of the ladder.
type sceneView struct {
	Laws  []*scene `json:"laws"`
	Span  float64  `json:"span"`
	Start int      `json:"start"`
	Level level.DB `json:"level"` // volume to begin with
}

// scenes is the data of the moving figures.
func (l *Lesson) scenes() (template.JS, error) {
	var list []sceneView
	for i := range l.steps {
		start := level.DB(0)
		if i >= 4 {
			start = -12
		}
		list = append(list, sceneView{Laws: []*scene{l.steps[i].scene}, Span: span, Level: start})
	}
	last := sceneView{Span: span, Start: l.ladder.start(), Level: hushed}
	for _, r := range l.ladder.rungs {
		last.Laws = append(last.Laws, r.scene)
	}
	text, err := json.Marshal(append(list, last))
	return template.JS(text), err
}

// sounds are the blocks of sounds: the inputs, one block a step, the ladder.
func (l *Lesson) sounds() ([]template.JS, error) {
	blocks := [][]track{{newTrack(l.inputs.tone), newTrack(l.inputs.music)}}
	for i := range l.steps {
		blocks = append(blocks, l.steps[i].sounds)
	}
	last := []track{newTrack(l.ladder.input)}
	for _, r := range l.ladder.rungs {
		last = append(last, newTrack(r.sound))
	}
	var texts []template.JS
	for _, block := range append(blocks, last) {
		var b bytes.Buffer
		if err := writeTracks(&b, block); err != nil {
			return nil, err
		}
		texts = append(texts, template.JS(b.String()))
	}
	return texts, nil
}
