package survey

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"quietcross/reports/audibility"
)

// Distribution is the answer for one stage.
type Distribution struct {
	Stage string `json:"stage"`
	// Recordings is their number, of which Clean are clean at the minimum current
	// already and Never at no current searched.
	Recordings int `json:"recordings"`
	Clean      int `json:"clean"`
	Never      int `json:"never"`
	// Shares is the share predicted clean against current, ascending, and AtOptimum that
	// at the stage's optimum, nil where its circuit has none or it was not searched.
	Shares    []Share `json:"shares"`
	AtOptimum *Share  `json:"at_optimum,omitempty"`
	// Currents are those that keep 50, 90 and 99 % of the library clean.
	Currents []Current `json:"currents"`
	// Worst are the recordings that need the most, the worst first.
	Worst []Worst `json:"worst,omitempty"`
	// Properties set the recordings' properties against their thresholds.
	Properties []Correlation `json:"properties,omitempty"`
	// Sentence says the answer in words.
	Sentence string `json:"sentence"`
}

// Share is the share of recordings predicted clean at a current.
type Share struct {
	Quiescent float64  `json:"quiescent_a"`
	Share     float64  `json:"share"`
	Interval  Interval `json:"interval"`
}

// Current is the minimum current, A, at which a part of the library is predicted clean.
type Current struct {
	Part float64 `json:"part"`
	// Quiescent is nil where the part is not reached at any current searched. AtMinimum
	// tells that it is reached at the minimum searched already: the current is that or
	// less.
	Quiescent *float64 `json:"quiescent_a"`
	AtMinimum bool     `json:"at_minimum,omitempty"`
	// Low and High bound it, A; High is nil where there is no upper bound: the part is
	// not always reached, or there are fewer than Needed recordings, too few to bound it.
	Low    *float64 `json:"low_a"`
	High   *float64 `json:"high_a"`
	Needed int      `json:"recordings_needed"`
}

// Worst is one of the recordings that need the most.
type Worst struct {
	Name string `json:"name"`
	ID   string `json:"id"`
	// Threshold is nil where it is never clean.
	Threshold *float64 `json:"threshold_a"`
	Kind      Kind     `json:"excerpt"`
	Heard     Moment   `json:"heard"`
	// Reference and Rendering are files beside the result, to listen to.
	Reference string `json:"reference"`
	Rendering string `json:"rendering"`
}

// Correlation is Spearman's rank correlation of a property with the threshold.
type Correlation struct {
	Property   string `json:"property"`
	Recordings int    `json:"recordings"`
	// Rank is it, -1 to 1, with its interval by Fisher's transform and the standard error
	// of D. G. Bonett and T. A. Wright (Psychometrika 65, 2000).
	Rank     float64  `json:"rank"`
	Interval Interval `json:"interval"`
}

// Comparison sets the share at a stage's own optimum against that of the first stage.
type Comparison struct {
	First string `json:"first"`
	Stage string `json:"stage"`
	// Difference is the share clean at the stage's optimum less that at the first's, with
	// the interval of drawings of both together.
	Difference float64  `json:"difference"`
	Interval   Interval `json:"interval"`
	// OnlyFirst and OnlyStage are the recordings clean in one of the two alone.
	OnlyFirst int `json:"only_first"`
	OnlyStage int `json:"only_stage"`
}

// parts are those of a library whose current is worked out.
var parts = []float64{0.5, 0.9, 0.99}

const (
	sharePoints = 41 // of the curve
	worstListed = 10
)

// Conclude works out the distributions from the recordings, which have their verdicts.
func (r *Result) conclude() {
	if len(r.Recordings) == 0 {
		r.Warnings = append(r.Warnings, "No recording was found that can be surveyed.")
		for _, stage := range r.Stages {
			r.Distributions = append(r.Distributions, Distribution{Stage: stage.Name, Shares: []Share{}, Currents: []Current{}, Sentence: stage.Name + ": nothing was surveyed"})
		}
		return
	}
	var sweeps []*sweep
	var probes [][]float64
	for i := range r.Stages {
		at := r.Stages[i].probes()
		probes = append(probes, at)
		sweeps = append(sweeps, newSweep(r.spans(i), at, parts))
	}
	drawn := bootstrap(sweeps, r.Seed)
	for i := range r.Stages {
		r.Distributions = append(r.Distributions, r.distribution(i, probes[i], sweeps[i].with(once(len(r.Recordings))), drawn[i]))
	}
	for i := range r.Stages[1:] {
		if c, ok := r.compare(i+1, drawn); ok {
			r.Comparisons = append(r.Comparisons, c)
		}
	}
}

// probes are the currents of a stage's curve, and its optimum last where it was searched.
func (s *StageHead) probes() []float64 {
	at := make([]float64, sharePoints)
	for i := range at {
		at[i] = s.Searched.From * math.Pow(s.Searched.To/s.Searched.From, float64(i)/(sharePoints-1))
	}
	at[sharePoints-1] = s.Searched.To
	if s.Optimum >= s.Searched.From && s.Optimum <= s.Searched.To {
		at = append(at, s.Optimum)
	}
	return at
}

// spans are the clean stretches of all recordings through a stage.
func (r *Result) spans(stage int) [][]Span {
	list := make([][]Span, len(r.Recordings))
	for i := range r.Recordings {
		list[i] = r.Recordings[i].Stages[stage].Clean
	}
	return list
}

// distribution is the answer for one stage.
func (r *Result) distribution(stage int, probes []float64, found swept, drawn []swept) Distribution {
	head := &r.Stages[stage]
	d := Distribution{Stage: head.Name, Recordings: len(r.Recordings)}
	for i := range r.Recordings {
		switch r.Recordings[i].Stages[stage].State {
		case StateClean:
			d.Clean++
		case StateNever:
			d.Never++
		}
	}
	for i, current := range probes {
		s := Share{current, found.shares[i], shareInterval(found.shares[i], d.Recordings, column(drawn, func(s swept) float64 { return s.shares[i] }))}
		if i < sharePoints {
			d.Shares = append(d.Shares, s)
		} else {
			d.AtOptimum = &s
		}
	}
	for i, q := range parts {
		d.Currents = append(d.Currents, current(q, head, d.Recordings, found.currents[i], column(drawn, func(s swept) float64 { return s.currents[i] })))
	}
	d.Worst = r.worst(stage)
	d.Properties = r.correlations(stage)
	d.Sentence = r.sentence(&d)
	return d
}

// column takes one figure out of every drawing.
func column(drawn []swept, figure func(swept) float64) []float64 {
	values := make([]float64, len(drawn))
	for i, s := range drawn {
		values[i] = figure(s)
	}
	return values
}

// current is the current of a part q of the library, with what bounds it.
func current(q float64, stage *StageHead, count int, found float64, drawn []float64) Current {
	c := Current{Part: q, Needed: needed(q)}
	finite := func(x float64) *float64 {
		if math.IsInf(x, 0) {
			return nil
		}
		return &x
	}
	c.Quiescent = finite(found)
	c.AtMinimum = found <= stage.Searched.From
	bounds := percentiles(drawn)
	c.Low, c.High = finite(bounds.Low), finite(bounds.High)
	if count < c.Needed {
		c.High = nil
	}
	return c
}

// worst lists the recordings that need the most through a stage.
func (r *Result) worst(stage int) []Worst {
	type candidate struct {
		*Recording
		*Verdict
		demands float64
	}
	var all []candidate
	for i := range r.Recordings {
		v := &r.Recordings[i].Stages[stage]
		if v.State == StateClean || v.Heard == nil {
			continue
		}
		d := math.Inf(1)
		if v.Threshold != nil {
			d = *v.Threshold
		}
		all = append(all, candidate{&r.Recordings[i], v, d})
	}
	slices.SortFunc(all, func(a, b candidate) int {
		return cmp.Or(cmp.Compare(b.demands, a.demands), cmp.Compare(b.Heard.Detection, a.Heard.Detection), cmp.Compare(a.Name, b.Name), cmp.Compare(a.ID, b.ID))
	})
	var list []Worst
	for _, c := range all[:min(worstListed, len(all))] {
		base := fmt.Sprintf("worst/%s-%d", c.ID, stage+1)
		list = append(list, Worst{
			Name: c.Name, ID: c.ID, Threshold: c.Threshold, Kind: c.Worst, Heard: *c.Heard,
			Reference: base + "-reference.wav", Rendering: base + "-rendering.wav",
		})
	}
	return list
}

// properties are what thresholds are set against.
var properties = []struct {
	name string
	of   func(*Recording) *float64
}{
	{"loudness range", func(r *Recording) *float64 { return (*float64)(r.Range) }},
	{"quietest passage", func(r *Recording) *float64 { return (*float64)(r.Quietest) }},
	{"programme loudness", func(r *Recording) *float64 { return (*float64)(&r.Loudness) }},
	{"spectral tilt", func(r *Recording) *float64 { return r.Tilt }},
}

// leastRanked is the number of recordings from which on a correlation is told.
const leastRanked = 10

// correlations sets properties against thresholds: recordings clean at the minimum share
// the lowest rank, those never clean the highest.
func (r *Result) correlations(stage int) []Correlation {
	var list []Correlation
	for _, p := range properties {
		var x, y []float64
		for i := range r.Recordings {
			value := p.of(&r.Recordings[i])
			if value == nil {
				continue
			}
			v := &r.Recordings[i].Stages[stage]
			threshold := 0.0
			if v.State == StateNever {
				threshold = math.Inf(1)
			} else if v.Threshold != nil {
				threshold = *v.Threshold
			}
			x, y = append(x, *value), append(y, threshold)
		}
		if rho, ok := audibility.Spearman(x, y); ok && len(x) >= leastRanked {
			list = append(list, Correlation{p.name, len(x), rho, rankInterval(rho, len(x))})
		}
	}
	return list
}

// rankInterval is the interval of a rank correlation of n pairs.
func rankInterval(rho float64, n int) Interval {
	if math.Abs(rho) >= 1 {
		return Interval{rho, rho}
	}
	half := 1.959964 * math.Sqrt((1+rho*rho/2)/float64(n-3))
	return Interval{math.Tanh(math.Atanh(rho) - half), math.Tanh(math.Atanh(rho) + half)}
}

// compare sets a stage against the first, where both have an optimum that was searched.
func (r *Result) compare(stage int, drawn [][]swept) (Comparison, bool) {
	first, other := &r.Distributions[0], &r.Distributions[stage]
	if first.AtOptimum == nil || other.AtOptimum == nil {
		return Comparison{}, false
	}
	c := Comparison{First: first.Stage, Stage: other.Stage, Difference: other.AtOptimum.Share - first.AtOptimum.Share}
	differences := make([]float64, drawings)
	for i := range differences {
		differences[i] = drawn[stage][i].shares[sharePoints] - drawn[0][i].shares[sharePoints]
	}
	c.Interval = percentiles(differences)
	for i := range r.Recordings {
		a := r.Recordings[i].Stages[0].clean(first.AtOptimum.Quiescent)
		b := r.Recordings[i].Stages[stage].clean(other.AtOptimum.Quiescent)
		if a && !b {
			c.OnlyFirst++
		}
		if b && !a {
			c.OnlyStage++
		}
	}
	return c, true
}
