package survey

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"quietcross/dsp/level"
	"quietcross/reports/audibility"
)

// finding is one whose probability of noticing is 0.9 at the currents that heard picks.
func finding(heard func(current float64) bool) *audibility.Finding {
	f := &audibility.Finding{Limit: 0.5}
	for _, q := range audibility.Lattice(1e-4, 1, 5) {
		p := audibility.Point{Quiescent: q, Detection: 0.1, When: audibility.When{First: 1.5, From: 1, To: 5}}
		if heard(q) {
			p.Detection = 0.9
		}
		if n := len(f.Curve); n > 0 && (f.Curve[n-1].Detection > 0.5) != (p.Detection > 0.5) {
			c := audibility.Crossing{Low: f.Curve[n-1].Quiescent, High: q, Quiescent: math.Sqrt(q * f.Curve[n-1].Quiescent), Rising: p.Detection > 0.5}
			f.Crossings = append(f.Crossings, c)
			if f.Threshold == nil && !c.Rising {
				f.Threshold = &audibility.Threshold{Crossing: c}
			}
		}
		f.Curve = append(f.Curve, p)
	}
	return f
}

// What is kept of a finding says at each current what the finding says.
func TestOutcomeIsTheFinding(t *testing.T) {
	for name, c := range map[string]struct {
		heard func(float64) bool
		state State
		spans int
	}{
		"falls":        {func(q float64) bool { return q < 0.01 }, StateThreshold, 1},
		"clean":        {func(float64) bool { return false }, StateClean, 1},
		"never":        {func(float64) bool { return true }, StateNever, 0},
		"comes back":   {func(q float64) bool { return q < 0.01 || q > 0.3 }, StateThreshold, 1},
		"in the midst": {func(q float64) bool { return q > 0.001 && q < 0.1 }, StateClean, 2},
	} {
		f := finding(c.heard)
		var o Outcome
		o.read(f, 30)
		v := Verdict{Outcomes: []Outcome{o}}
		v.conclude()
		if v.State != c.state || len(v.Clean) != c.spans {
			t.Errorf("%s: %s with %v, want %s with %d stretches", name, v.State, v.Clean, c.state, c.spans)
		}
		for _, p := range f.Curve {
			if v.clean(p.Quiescent) == c.heard(p.Quiescent) {
				t.Errorf("%s: clean is %v at %g A", name, v.clean(p.Quiescent), p.Quiescent)
			}
		}
		if (o.Heard == nil) != (c.state == StateClean) {
			t.Errorf("%s: heard %+v", name, o.Heard)
		}
		if o.Heard != nil && (o.Heard.First != 31.5 || o.Heard.From != 1) {
			t.Errorf("%s: heard at %+v, want 31.5 s into the recording and 1 s into the excerpt", name, o.Heard)
		}
	}
	var o Outcome
	if o.read(&audibility.Finding{Error: "broken"}, 0); o.Error != "broken" {
		t.Errorf("error %q", o.Error)
	}
}

// A recording is clean where all its excerpts are, and its worst excerpt is the one that
// asks for the most.
func TestVerdictJoinsExcerpts(t *testing.T) {
	of := func(kind Kind, heard func(float64) bool) Outcome {
		o := Outcome{Kind: kind}
		o.read(finding(heard), 0)
		return o
	}
	low := of(KindQuiet, func(q float64) bool { return q < 0.001 })
	back := of(KindFade, func(q float64) bool { return q < 0.01 || q > 0.3 })
	never := of(KindLoud, func(float64) bool { return true })
	v := Verdict{Outcomes: []Outcome{low, back}}
	v.conclude()
	if v.State != StateThreshold || *v.Threshold != *back.Threshold || v.Worst != KindFade || v.clean(0.5) || !v.clean(0.1) {
		t.Errorf("%+v", v)
	}
	v = Verdict{Outcomes: []Outcome{low, never, back}}
	v.conclude()
	if v.State != StateNever || v.Worst != KindLoud || v.Threshold != nil {
		t.Errorf("%+v", v)
	}
}

// made is a result of count recordings with thresholds spread evenly on a logarithmic
// scale from 1 to 100 mA, one of ten clean everywhere, one of twenty never.
func made(count int) *Result {
	r := &Result{Schema: SchemaVersion, Head: Head{
		Excerpts: Kinds(), Length: 10, Volume: VolumeSet, Heard: DefaultOptions().Heard, Limit: 0.5,
		Stages: []StageHead{{Name: "pair-12w", Title: "a pair", Drive: 20, Optimum: 0.03, Searched: Span{1e-4, 1}}, {Name: "other", Title: "another", Drive: 20, Optimum: 0.05, Searched: Span{1e-4, 1}}},
	}}
	for i := range count {
		at := 1e-3 * math.Pow(100, float64(i)/float64(count))
		rec := Recording{Name: fmt.Sprintf("%04d <i>.wav", i), ID: fmt.Sprintf("%032x", i), Excerpts: []Excerpt{{Kind: KindQuiet, To: 10}}}
		rec.Loudness, rec.Peak, rec.Seconds = level.DB(-30+float64(i%7)), -1, 200
		quietest := level.DB(-50 + 30*float64(i)/float64(count))
		rec.Quietest = &quietest
		for s, factor := range []float64{1, 1.5} {
			threshold := at * factor
			o := Outcome{Kind: KindQuiet, Searched: Span{1e-4, 1}, Clean: []Span{{threshold, 1}}, Threshold: &threshold, Heard: &Moment{Quiescent: 0.9 * threshold, First: 3, Detection: 0.8, To: 4}}
			if i%10 == 3 {
				o.Clean, o.Threshold, o.Heard = []Span{{1e-4, 1}}, nil, nil
			}
			if i%20 == 5 {
				o.Clean, o.Threshold = nil, nil
			}
			rec.put(r.Head.Stages[s].Name, o)
		}
		rec.conclude(r.Head.Stages)
		r.Recordings = append(r.Recordings, rec)
	}
	r.Refused = []Refusal{{"<script>.wav", "not a sound file"}}
	r.finish()
	return r
}

// The distribution of thresholds that are known: shares are counted, recordings clean
// everywhere and never are in them, and the sentence says the current for 90 %.
func TestDistributionOfKnownThresholds(t *testing.T) {
	r := made(240)
	d := r.Distributions[0]
	if d.Clean != 24 || d.Never != 12 || d.Recordings != 240 {
		t.Errorf("%d clean, %d never of %d, want 24, 12 of 240", d.Clean, d.Never, d.Recordings)
	}
	if first, last := d.Shares[0], d.Shares[len(d.Shares)-1]; first.Share != 0.1 || last.Share != 0.95 {
		t.Errorf("shares from %g to %g, want 0.1 to 0.95", first.Share, last.Share)
	}
	half := d.Currents[0]
	if half.Quiescent == nil || math.Abs(math.Log(*half.Quiescent/1e-3)/math.Log(100)-(0.5-0.1)/0.85) > 0.02 {
		t.Errorf("half of the library at %v", half.Quiescent)
	}
	ninety, most := d.Currents[1], d.Currents[2]
	if ninety.Quiescent == nil || ninety.High == nil || *ninety.Low > *ninety.Quiescent || *ninety.High < *ninety.Quiescent {
		t.Errorf("90 %%: %+v", ninety)
	}
	if most.Quiescent != nil || most.High != nil || most.Needed != 368 {
		t.Errorf("99 %% of a library of which 95 %% are ever clean: %+v", most)
	}
	if want := "keeps 90"; !strings.Contains(d.Sentence, want) || !strings.Contains(d.Sentence, "240") {
		t.Errorf("%q", d.Sentence)
	}
	if d.Worst[0].Threshold != nil || len(d.Worst) != worstListed {
		t.Errorf("worst %+v", d.Worst[0])
	}
	c := r.Comparisons[0]
	if c.Interval.Low > c.Difference || c.Interval.High < c.Difference || c.OnlyFirst+c.OnlyStage == 0 {
		t.Errorf("comparison %+v", c)
	}
	i := slices.IndexFunc(d.Properties, func(c Correlation) bool { return c.Property == "quietest passage" })
	if p := d.Properties[i]; p.Rank < 0.6 || p.Interval.Low > p.Rank || p.Interval.High < p.Rank {
		t.Errorf("thresholds that rise with the quietest passage, but for those without one: %+v", p)
	}
}

// A library without a recording has a result that says so.
func TestEmptyLibrary(t *testing.T) {
	r := surveyed(t, t.TempDir(), t.TempDir(), options(t))
	var b bytes.Buffer
	for _, write := range []func() error{func() error { return r.WriteTable(&b) }, func() error { return r.WritePage(&b) }, func() error { return r.WriteCSV(&b) }} {
		if err := write(); err != nil {
			t.Error(err)
		}
	}
	if !strings.Contains(b.String(), "No recording was found that can be surveyed.") || strings.Contains(b.String(), "..") || strings.Contains(b.String(), "Every recording") {
		t.Errorf("%q", b.String())
	}
	if _, err := Read(strings.NewReader(jsonOf(t, r)), "empty.json"); err == nil {
		t.Error("a survey of nothing is read as a distribution")
	}
}

// What is written is read back; other JSON is refused.
func TestRead(t *testing.T) {
	text := jsonOf(t, made(40))
	r, err := Read(strings.NewReader(text), "survey.json")
	if err != nil {
		t.Fatal(err)
	}
	same(t, "read and written again", jsonOf(t, r), text)
	for _, other := range []string{"", "{}", `{"schema":9}`, "[1]", strings.Replace(text, `"schema": 1`, `"schema": 2`, 1)} {
		if _, err := Read(strings.NewReader(other), "x.json"); err == nil || !strings.Contains(err.Error(), "x.json") {
			t.Errorf("%.20q is read: %v", other, err)
		}
	}
}

// Table, CSV and page name every recording that they should, and markup in names stays
// text.
func TestWritten(t *testing.T) {
	r := made(60)
	var table, page, lines bytes.Buffer
	for w, write := range map[*bytes.Buffer]func(*bytes.Buffer) error{
		&table: func(b *bytes.Buffer) error { return r.WriteTable(b) },
		&page:  func(b *bytes.Buffer) error { return r.WritePage(b) },
		&lines: func(b *bytes.Buffer) error { return r.WriteCSV(b) },
	} {
		if err := write(w); err != nil {
			t.Fatal(err)
		}
	}
	if !strings.HasPrefix(table.String(), r.Distributions[0].Sentence) {
		t.Errorf("the table begins with %.80q", table.String())
	}
	for _, text := range []string{"<i>", "<script>.wav"} {
		if strings.Contains(page.String(), text) {
			t.Errorf("the page holds %q unescaped", text)
		}
	}
	rows, err := csv.NewReader(&lines).ReadAll()
	if err != nil || len(rows) != 1+2*60+1 {
		t.Errorf("%d lines of CSV, %v, want %d", len(rows), err, 1+2*60+1)
	}
}

// A name with control characters cannot write to the terminal.
func TestNamesAreHarmless(t *testing.T) {
	r := made(30)
	r.Refused = []Refusal{{"\x1b[2Jgone\n.wav", "no"}}
	r.Distributions[0].Worst[0].Name = "\a.wav"
	var b bytes.Buffer
	if err := r.WriteTable(&b); err != nil || strings.ContainsAny(b.String(), "\x1b\a") || !strings.Contains(b.String(), `\x1b[2Jgone\n.wav`) {
		t.Errorf("%v: %q", err, b.String())
	}
}

// The search itself, on two short recordings: a hum whose distortion lies bare needs
// current, and the moment to listen to is written as two files of equal length.
func TestRealSearch(t *testing.T) {
	if testing.Short() {
		t.Skip("the search takes minutes under the race detector")
	}
	library, dir := t.TempDir(), t.TempDir()
	write(t, filepath.Join(library, "a.wav"), 32000, piece(32000, 0.6, 1))
	write(t, filepath.Join(library, "b.wav"), 44100, piece(44100, 0.6, 2))
	o := options(t)
	o.hear = nil
	r := surveyed(t, dir, library, o)
	if len(r.Recordings) != 2 || len(r.Refused) != 0 {
		t.Fatalf("%d recordings, refused %+v", len(r.Recordings), r.Refused)
	}
	for _, w := range r.Distributions[0].Worst {
		reference, rendering := filepath.Join(dir, w.Reference), filepath.Join(dir, w.Rendering)
		a, b := File{"", reference}, File{"", rendering}
		x, err1 := a.open()
		y, err2 := b.open()
		if err1 != nil || err2 != nil || x.Frames() != y.Frames() || x.Frames() == 0 {
			t.Errorf("%s: %v, %v", w.Name, err1, err2)
		}
	}
	if len(r.Distributions[0].Worst) == 0 {
		t.Error("neither is ever heard")
	}
	// The threshold is that of the command audibility, but for what it is narrowed by.
	s, err := newSearcher(&o)
	if err != nil {
		t.Fatal(err)
	}
	f := File{"a.wav", filepath.Join(library, "a.wav")}
	audio, rate, err := f.cut(t.Context(), Excerpt{To: 0.6})
	if err != nil {
		t.Fatal(err)
	}
	k, err := s.kase(0, heard{name: "a.wav", audio: audio, rate: rate})
	if err != nil {
		t.Fatal(err)
	}
	finely := s.options[0]
	finely.PerDecade, finely.Tolerance = audibility.DefaultPerDecade, audibility.DefaultTolerance
	found, err := audibility.Examine(context.Background(), k, finely)
	if err != nil || found.Threshold == nil {
		t.Fatalf("%v: %s", err, found.Summary)
	}
	t.Logf("threshold %g A, audibility finds %g A", *r.Recordings[0].Stage("pair-12w").Threshold, found.Threshold.Quiescent)
	if got := r.Recordings[0].Stage("pair-12w").Threshold; got == nil || math.Abs(*got/found.Threshold.Quiescent-1) > 0.03 {
		t.Errorf("threshold %v, audibility finds %g A", got, found.Threshold.Quiescent)
	}
}
