package report

import (
	"fmt"
	"html/template"
	"math"
	"net/url"
	"strings"

	"quietcross/dsp/level"

	"quietcross/reports/view/caution"
	"quietcross/reports/view/format"
)

// view is what the template shows.
type view struct {
	Title      string
	Subtitle   string
	Policy     string
	Style      template.CSS
	Script     template.JS
	Data       player
	Rungs      []rungView
	Index      []source
	Items      []itemView
	Overview   *table
	Detected   *table
	Pooled     *tracking
	Scatters   []Figure
	Circuit    *circuit
	Warnings   []string
	Conditions []conditionLine
	Playback   string // level of a full-scale sine
	Loudest    string // maximum make-up gain of a residual
}

// rungView is one switch of the page.
type rungView struct {
	Index     int
	Label     string
	Condition string
	Swatch    template.HTML
}

// source groups the items of one source in the index.
type source struct {
	Name   string
	Levels []indexEntry
}

type indexEntry struct {
	Index int
	Level string
}

// itemView is one item with everything shown of it.
type itemView struct {
	Index     int
	Heading   string
	Shows     string
	Facts     string
	Headline  string
	Verdicts  string // what the verdicts of the findings hold for
	Findings  []finding
	Player    playerView
	Heard     []Figure // when each rung is predicted to be noticed
	Excess    []Panel  // and what stands out then
	Transfer  []Figure
	Crossing  []Figure
	Tone      []Figure
	Harmonics *table
	Bands     []Figure
	Residues  residues
	Table     table
	Levels    table
	Tracking  *tracking
	Peak      string // of the item at the stage's input
	Power     *table
	Warnings  []string
}

type finding struct {
	Rung    rungView
	Verdict verdict
	Text    string
}

// The page's cautions, by subject.
func (*view) Hearing() string    { return caution.Hearing }
func (*view) Tweeters() string   { return caution.Tweeters }
func (*view) Bench() []string    { return caution.Bench() }
func (itemView) Caution() string { return caution.Hearing }

func newView(r *Report) *view {
	v := &view{
		Title: title(r), Subtitle: subtitle(r), Policy: policy(),
		Style: template.CSS(style(len(r.Rungs))), Script: template.JS(script()), Data: newPlayer(r),
		Overview: overview(r), Detected: detected(r), Pooled: pooled(r), Warnings: r.Warnings, Conditions: conditions(r), Playback: playback(r), Loudest: format.Distance(loudest(r)),
	}
	for k := range r.Rungs {
		v.Rungs = append(v.Rungs, newRung(r, k))
	}
	v.Circuit = newCircuit(r, v.Rungs)
	if v.Pooled != nil {
		v.Scatters = scatters(r)
	}
	for i := range r.Items {
		v.Items = append(v.Items, newItemView(r, i, v.Rungs))
		v.addToIndex(&r.Items[i], i)
	}
	return v
}

func title(r *Report) string {
	if r.Title != "" {
		return r.Title
	}
	return r.Stage
}

func subtitle(r *Report) string {
	return fmt.Sprintf("%s at %s, rendered %s",
		plural(len(r.Items), "item"), plural(len(r.Rungs), "bias setting"), r.Created.UTC().Format("2 January 2006, 15:04 UTC"))
}

func plural(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return format.Count(int64(n)) + " " + noun + "s"
}

func newRung(r *Report, k int) rungView {
	swatch := template.HTML(look(r, k).Swatch()) // markup of plot's own, without any text
	return rungView{k, r.Rungs[k].Label, string(r.Rungs[k].Condition), swatch}
}

func newItemView(r *Report, i int, rungs []rungView) itemView {
	item := &r.Items[i]
	name := fmt.Sprintf("i%d", i)
	v := itemView{
		Index: i, Heading: heading(item), Shows: item.Source.Shows, Facts: facts(item),
		Player: newPlayerView(r, item),
		Heard:  heardFigure(r, item, name), Excess: excessPanels(r, item, name),
		Transfer: transferFigures(r, item, name), Crossing: crossingFigures(r, item, name),
		Tone: toneFigures(r, item, name), Harmonics: harmonicTable(r, item),
		Bands: bandFigures(r, item, name), Residues: residueFigures(r, item, name),
		Table: numbers(r, item), Levels: levels(r, item), Tracking: itemTracking(r, item), Peak: format.Quantity(item.Peak, "V"),
		Power: powerTable(r, item), Warnings: item.Warnings, Headline: headline(r, item), Verdicts: verdictNote(r, item),
	}
	for k := range item.Renderings {
		rendering := &item.Renderings[k]
		v.Findings = append(v.Findings, finding{rungs[k], newVerdict(r, rendering), rendering.Finding})
	}
	return v
}

// sourceName is what people know the source by.
func sourceName(item *Item) string {
	if item.Source.Title != "" {
		return item.Source.Title
	}
	return item.Source.Name
}

func heading(item *Item) string {
	return sourceName(item) + ", " + levelName(item.Level)
}

func levelName(l level.DB) string {
	if l == 0 {
		return "full drive"
	}
	decimals := 0
	if l != level.DB(math.Round(float64(l))) {
		decimals = 1
	}
	return format.Fixed(float64(l), decimals) + "\u00a0dB"
}

func facts(item *Item) string {
	channels := "mono"
	switch {
	case item.Channels == 2:
		channels = "stereo"
	case item.Channels > 2:
		channels = plural(item.Channels, "channel")
	}
	encoding, _, _ := strings.Cut(item.Source.Format, ",")
	text := strings.Join([]string{
		format.Duration(item.Seconds()), channels, format.Quantity(float64(item.Rate), "Hz"), encoding,
	}, ", ")
	if item.Channels > 1 {
		text += fmt.Sprintf("; measured on channel %d, the loudest", item.Channel+1)
	}
	return text
}

func (v *view) addToIndex(item *Item, i int) {
	entry := indexEntry{i, levelName(item.Level)}
	name := sourceName(item)
	if last := len(v.Index) - 1; last >= 0 && v.Index[last].Name == name {
		v.Index[last].Levels = append(v.Index[last].Levels, entry)
		return
	}
	v.Index = append(v.Index, source{name, []indexEntry{entry}})
}

// loudest is the maximum make-up gain among the residuals.
func loudest(r *Report) level.DB {
	var most level.DB
	for i := range r.Items {
		for _, rendering := range r.Items[i].Renderings {
			most = max(most, rendering.Residual.MakeUp)
		}
	}
	return most
}

// link is the address of a file of the set, relative to the page.
func link(file string) template.URL {
	parts := strings.Split(file, "/")
	for i := range parts {
		parts[i] = url.PathEscape(parts[i])
	}
	return template.URL("./" + strings.Join(parts, "/"))
}
