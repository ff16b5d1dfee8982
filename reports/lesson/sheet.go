package lesson

import (
	"fmt"
	"html/template"
	"io"
	"math"
	"strings"

	"quietcross/reports/view/caution"
	"quietcross/reports/view/plot"
	"quietcross/reports/view/schematic"
	"quietcross/stage"
)

// The two sheets beside the page: the handout, which has room for answers and none of
// them, and the key, which has them all. One template writes both, so that a question and
// its answer cannot part.

type sheetView struct {
	Key              bool
	Seed             uint64
	Title, Half      string
	Style            template.CSS
	Listening, Bench string
	Steps            []stepView
	Drawings         []template.HTML
	Sketch           template.HTML
	Bank             []question
}

// WriteHandout writes the sheet for students, which is at most four pages of A4.
func (l *Lesson) WriteHandout(w io.Writer) error { return l.sheet(w, false) }

// WriteKey writes the sheet for the teacher.
func (l *Lesson) WriteKey(w io.Writer) error { return l.sheet(w, true) }

func (l *Lesson) sheet(w io.Writer, key bool) error {
	v := sheetView{
		Key: key, Seed: l.options.Seed, Title: l.thread.spec.Title, Half: volts(l.thread.none.evaluation.DeadZone / 2),
		Style:     template.CSS(plot.Style() + schematic.Style() + asset("sheet.css")),
		Listening: caution.Paragraph(caution.Listening()), Bench: caution.Paragraph(caution.Bench()),
		Sketch: sketch(key), Bank: l.bank,
	}
	for _, s := range l.steps {
		shown := stepView{Number: s.number, Title: s.title, Question: s.question, Answer: s.answer}
		for i := range s.sounds {
			shown.Sounds = append(shown.Sounds, soundView{Label: s.sounds[i].label, Says: s.sounds[i].says()})
		}
		v.Steps = append(v.Steps, shown)
	}
	wound, err := l.thread.builtin("push-pull-dead-zone")
	if err != nil {
		return err
	}
	bare, err := wound.at(stage.AsBuilt())
	if err != nil {
		return err
	}
	for i, x := range []*state{l.thread.none, bare} {
		svg, err := x.drawn(fmt.Sprintf("sheet-%d", i), key)
		if err != nil {
			return err
		}
		v.Drawings = append(v.Drawings, svg)
	}
	page, err := template.New("sheet").Parse(asset("sheet.tmpl"))
	if err != nil {
		return err
	}
	return page.Execute(w, v)
}

// sketch draws two cycles of a sine on empty axes, and with answers what is left of it
// beyond a dead zone of 0.3 of its peak.
func sketch(answers bool) template.HTML {
	const width, height, middle, zone = 600.0, 140.0, 70.0, 0.3
	path := func(f func(float64) float64) string {
		var d strings.Builder
		for i := range 201 {
			x := float64(i) / 200
			fmt.Fprintf(&d, "%s%.1f %.1f", map[bool]string{true: "M", false: "L"}[i == 0], 10+x*(width-20), middle-55*f(math.Sin(4*math.Pi*x)))
		}
		return d.String()
	}
	var b strings.Builder
	fmt.Fprintf(&b, `<svg viewBox="0 0 %g %g" role="img" aria-label="A sine on empty axes"><path class="axis" d="M10 %gH%gM10 5V%g"/>`, width, height, middle, width-10, height-5)
	fmt.Fprintf(&b, `<path class="wave" d="%s"/>`, path(func(v float64) float64 { return v }))
	if answers {
		fmt.Fprintf(&b, `<path class="result" d="%s"/>`, path(func(v float64) float64 { return math.Copysign(max(0, math.Abs(v)-zone), v) }))
	}
	b.WriteString("</svg>")
	return template.HTML(b.String())
}
