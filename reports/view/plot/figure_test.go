package plot

import (
	"encoding/xml"
	"errors"
	"flag"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
)

var update = flag.Bool("update", false, "rewrite the golden files")

// example holds one of everything but a heat map, whose compressed bytes
// belong to the Go release.
func example() *Figure {
	f := &Figure{
		Name: "example", Title: "An example", Desc: "One of everything.",
		X:     Axis{Label: "frequency", Unit: "Hz", SI: true, Log: true, Lo: 20, Hi: 20000},
		Y:     Axis{Label: "level", Unit: "dB", Lo: -120, Hi: 0},
		Bands: []Band{{Lo: 300, Hi: 3400, Label: "speech band"}},
		Rules: []Rule{{At: -96, Label: "16 bit"}, {At: 1000, Vertical: true, Label: "1 kHz"}},
		Notes: []Note{{X: 1000, Y: -20, Text: "here"}, {X: 1000, Y: -20, Text: "and here"}},
	}
	for k := range 4 {
		var t Trace
		t.Label = []string{"unbiased", "1 mA", "118 mA", "steps"}[k]
		t.Rung = strconv.Itoa(k)
		t.Look = Look{Index: k}
		t.Kind = Kind([]Kind{Line, Stems, Points, Steps}[k])
		for i := range 11 {
			t.X = append(t.X, 20*math.Pow(1000, float64(i)/10))
			t.Y = append(t.Y, -30-20*float64(k)-float64(i*i)/4)
		}
		if t.Kind == Steps {
			t.X = append(t.X, 21000)
			t.Look.Fill = true
		}
		f.Traces = append(f.Traces, t)
	}
	return f
}

func TestGolden(t *testing.T) {
	golden(t, "example.svg", example().Document())
	golden(t, "style.css", Style())
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		if err := os.WriteFile(path+".got", []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		t.Errorf("%s differs from %s.got; look at both, then run with -update", path, path)
	}
}

func TestOutputIsDeterministic(t *testing.T) {
	first, second := example().SVG(), example().SVG()
	if first != second {
		t.Error("two drawings of one figure differ")
	}
}

const hostile = `"><img src=x onerror=alert(1)><script>alert(2)</script>&'` + "\x00\x1b\xff"

// Whatever stands in a text, the document stays well-formed XML and gains no
// element and no attribute.
func TestTextIsInert(t *testing.T) {
	names := func(f *Figure) map[string]int {
		count := map[string]int{}
		decoder := xml.NewDecoder(strings.NewReader(f.Document()))
		for {
			token, err := decoder.Token()
			if errors.Is(err, io.EOF) {
				return count
			}
			if err != nil {
				t.Fatal(err)
			}
			if e, ok := token.(xml.StartElement); ok {
				count[e.Name.Local]++
				count["attributes"] += len(e.Attr)
			}
		}
	}
	build := func(text string) *Figure {
		f := &Figure{
			Name: "x", Title: text, Desc: text,
			X: Axis{Label: text, Unit: text, Lo: 0, Hi: 1}, Y: Axis{Label: text, Unit: text, Lo: 0, Hi: 1},
			Traces: []Trace{{Label: text, Rung: text, X: []float64{0, 1}, Y: []float64{0, 1}}},
			Width:  2000, Height: 300,
			Bands: []Band{{Lo: 0, Hi: 1, Label: text}}, Notes: []Note{{X: 0.5, Y: 0.5, Text: text}},
		}
		return f
	}
	plain, dangerous := names(build(strings.Repeat("x", len(hostile)))), names(build(hostile))
	if dangerous["script"]+dangerous["img"] != 0 {
		t.Errorf("injected elements: %v", dangerous)
	}
	for name, n := range plain {
		if dangerous[name] != n {
			t.Errorf("%d %s for harmless text, %d for hostile", n, name, dangerous[name])
		}
	}
}

func TestBadNamePanics(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("no panic")
		}
	}()
	f := example()
	f.Name = `a"b`
	f.SVG()
}

func TestBadTracePanics(t *testing.T) {
	for name, trace := range map[string]Trace{
		"lengths": {X: []float64{1, 2}, Y: []float64{1}},
		"falling": {X: []float64{2, 1}, Y: []float64{1, 1}},
		"edges":   {Kind: Steps, X: []float64{1, 2}, Y: []float64{1, 1}},
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			f := example()
			f.Traces = append(f.Traces, trace)
			f.SVG()
		}()
	}
}

// Eight traces that all end at one place: their labels stay a line apart and
// inside the figure.
func TestLabelsKeepApart(t *testing.T) {
	f := &Figure{Name: "x", X: Axis{Lo: 0, Hi: 1}, Y: Axis{Lo: 0, Hi: 1}}
	for k := range 8 {
		f.Traces = append(f.Traces, Trace{Label: strconv.Itoa(k), X: []float64{0, 1}, Y: []float64{0, 0.001 * float64(k)}})
	}
	a := f.plan(false).area
	keys := f.arrange(a)
	for i, k := range keys {
		if k.y < 0 || k.y > a.h {
			t.Errorf("label %d at %g of %g px", i, k.y, a.h)
		}
		if i > 0 && k.y-keys[i-1].y < keyLine-1e-9 {
			t.Errorf("labels %d and %d are %g px apart", i-1, i, k.y-keys[i-1].y)
		}
	}
	if keys[0].trace.Label != "7" {
		t.Errorf("the upper label is %q, want that of the upper trace", keys[0].trace.Label)
	}
}

func TestNotesDoNotOverprint(t *testing.T) {
	f := &Figure{Name: "x", X: Axis{Lo: 0, Hi: 1}, Y: Axis{Lo: 0, Hi: 1}}
	a := area{50, 20, 300, 200}
	r := request{text: "a remark", anchors: []Note{{X: 0.4, Y: 0.5}}}
	var taken []box
	for range 12 {
		if b, ok := free(r.places(f, a), a, taken, nil); ok {
			for _, o := range taken {
				if b.meets(o) {
					t.Fatalf("%v meets %v", b, o)
				}
			}
			taken = append(taken, b)
		}
	}
	if len(taken) < 6 {
		t.Errorf("room for %d remarks only", len(taken))
	}
	r.text = strings.Repeat("long ", 40)
	if _, ok := free(r.places(f, a), a, nil, nil); ok {
		t.Error("a text wider than the area was placed")
	}
}

// A label of any length leaves most of the figure to the data.
func TestLongLabelsAreCut(t *testing.T) {
	f := &Figure{Name: "x", X: Axis{Lo: 0, Hi: 1}, Y: Axis{Lo: 0, Hi: 1}}
	f.Traces = []Trace{{Label: strings.Repeat("wide ", 100), X: []float64{0, 1}, Y: []float64{0, 1}}}
	if w := f.plan(false).area.w; w < defaultWidth/2-20 {
		t.Errorf("%g px are left", w)
	}
	if text := f.keyText(&f.Traces[0]); !strings.HasSuffix(text, "…") || textWidth(text, textSize) > 0.4*defaultWidth {
		t.Errorf("label %q", text)
	}
}

// The label of a rule moves along it to where no trace is.
func TestNotesKeepClearOfTraces(t *testing.T) {
	f := &Figure{
		Name: "x", X: Axis{Lo: 0, Hi: 1}, Y: Axis{Lo: -1, Hi: 1}, Rules: []Rule{{At: 0, Label: "zero"}},
		Traces: []Trace{{X: []float64{0, 0.1, 0.2, 0.3, 0.4, 0.5}, Y: []float64{0.9, -0.9, 0.9, -0.9, 0.9, -0.9}}},
	}
	p := f.plan(false)
	places, ink := f.requests()[0].places(f, p.area), f.ink(p.area)
	first, ok := free(places, p.area, nil, nil)
	if !ok || !slices.ContainsFunc(ink, first.holds) {
		t.Fatal("the nearest place is free already: the case tries nothing")
	}
	if at, ok := free(places, p.area, nil, ink); !ok || slices.ContainsFunc(ink, at.holds) {
		t.Errorf("the label stands at %v, on a trace", at)
	}
}
