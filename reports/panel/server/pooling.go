package server

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"quietcross/dsp/level"
	"quietcross/reports/panel/statistics"
)

// GradeResult is what the panel gave to one kind of item: the grade, and the
// difference to that of the hidden reference in the same round.
type GradeResult struct {
	Role     Role
	Residual float64 // decibels; NaN for the hidden reference
	Place    Place
	// Grade, 1 to 5, and Difference, -4 to 4, are over the means of the listeners who
	// were kept.
	Grade, Difference statistics.Mean
	Predicted         float64 // grade, NaN for none
}

// pool works out what the listeners of a material come to together.
func (m *MaterialResult) pool() {
	var thresholds, errors []float64
	for i := range m.Listeners {
		if l := &m.Listeners[i]; l.Kept && l.Established {
			thresholds, errors = append(thresholds, l.Threshold.Mean), append(errors, l.Threshold.SD)
		}
	}
	m.poolThresholds(thresholds, errors)
	m.poolShares()
	m.correct()
	m.poolGrades()
	m.poolLevel()
	m.align()
	m.countOut()
}

// leaveOutAgain leaves out a further session of a listener who has been kept: a
// panel is made of listeners, and two sessions of one are not two.
func (m *MaterialResult) leaveOutAgain(l *ListenerResult) {
	for i := range m.Listeners {
		if other := &m.Listeners[i]; l.Kept && other.Kept && other.Session.Code == l.Session.Code {
			l.Kept, l.Again, l.LeftOut = false, true, "a further session of this listener"
		}
	}
}

// align gathers the answers about the pooled threshold.
func (m *MaterialResult) align() {
	if m.Pooled == nil {
		return
	}
	for i := range m.Listeners {
		if l := &m.Listeners[i]; l.Kept && l.Established {
			for _, p := range l.points {
				p.Level += m.Pooled.Mean - l.Threshold.Mean
				m.Points = append(m.Points, p)
			}
		}
	}
	if fit, err := model.Fit(m.Points); err == nil {
		m.Fit = &fit
		for _, w := range fit.Warnings {
			m.Warnings = append(m.Warnings, "the curve through all answers: "+w)
		}
	}
}

func (m *MaterialResult) poolThresholds(thresholds, errors []float64) {
	p, err := statistics.Pool(thresholds, errors, intervalLevel)
	if err != nil {
		return // nobody has a threshold
	}
	m.Pooled = &p
	m.At, m.From, m.To = m.Axis.At(p.Mean), m.Axis.At(p.Interval.Hi), m.Axis.At(p.Interval.Lo)
	m.Warnings = append(m.Warnings, p.Warnings...)
}

// countOut warns of listeners who are not in the pooled threshold, for it leans
// away from them.
func (m *MaterialResult) countOut() {
	screened, deaf, keen := 0, 0, 0
	for i := range m.Listeners {
		switch l := &m.Listeners[i]; {
		case !l.Kept:
			screened++
		case l.Established || l.Session.Settings.Graded() || l.Session.Settings.Method == Triangle:
		case l.Verdict.Outcome == statistics.Heard && l.Threshold.Mean < (l.Session.Lo+l.Session.Hi)/2:
			keen++
		default:
			deaf++
		}
	}
	for _, w := range []struct {
		n    int
		text string
	}{
		{screened, "left out by screening"},
		{keen, "heard all there was: no threshold, and the pooled one lies too high for them"},
		{deaf, "without a threshold below the largest difference: the pooled one lies too low for them"},
	} {
		if w.n > 0 {
			m.Warnings = append(m.Warnings, fmt.Sprintf("%d of %d sessions %s", w.n, len(m.Listeners), w.text))
		}
	}
}

// poolShares pools triangle tests, which all have one level.
func (m *MaterialResult) poolShares() {
	var counts []statistics.Count
	for i := range m.Listeners {
		if l := &m.Listeners[i]; l.Kept && l.Session.Settings.Method == Triangle {
			counts = append(counts, l.Verdict.Count)
		}
	}
	if s, err := statistics.PoolCounts(counts, statistics.GuessThree, intervalLevel); err == nil {
		m.Shares = &s
		m.Warnings = append(m.Warnings, s.Warnings...)
	}
}

// correct adjusts the listeners' probabilities for being looked at together.
func (m *MaterialResult) correct() {
	var at []*ListenerResult
	var p []float64
	for i := range m.Listeners {
		if l := &m.Listeners[i]; !l.Session.Settings.Graded() {
			at, p = append(at, l), append(p, l.Verdict.P)
		}
	}
	for i, adjusted := range statistics.Holm(p) {
		at[i].Holm = adjusted
	}
}

// poolLevel takes the median playback level of those who were kept, and the floor there.
func (m *MaterialResult) poolLevel() {
	var levels []level.DB
	var v Session
	for i := range m.Listeners {
		l := &m.Listeners[i]
		l.Floor = newFloor(m.rungs, l.Session)
		if l.Kept && l.Session.Playback != nil {
			levels = append(levels, *l.Session.Playback)
		}
		if l.Kept {
			v = *l.Session
		}
	}
	slices.Sort(levels)
	v.Playback = nil
	if m.Known = len(levels); m.Known > 0 {
		middle := (levels[(m.Known-1)/2] + levels[m.Known/2]) / 2
		m.Playback, v.Playback = &middle, &middle
	}
	m.Floor = newFloor(m.rungs, &v)
	if m.Expected != nil {
		v.Playback = nil
		m.Floor = predictedFloor(newFloor(m.rungs, &v), m.Expected, v.Lo)
	}
	if m.Floor != nil && m.Pooled != nil && m.Pooled.Mean < m.Floor.Residual {
		m.Warnings = append(m.Warnings, fmt.Sprintf("the pooled threshold lies under the floor of %s (%s): no such residual can be heard there; the level at the ear or the answers are not what they are taken for", decibels(m.Floor.Residual), m.Floor.Why))
	}
}

// screenGrades post-screens a graded session: does the listener tell the hidden reference
// from what is graded beside it? In triple-stimulus sessions all trials are looked at, in
// multi-stimulus ones the low anchor of each round.
func (l *ListenerResult) screenGrades() {
	var rounds []statistics.Round
	for i := range l.Trials {
		t := &l.Trials[i]
		if t.Kind != GradedKind {
			continue
		}
		r := statistics.Round{}
		for _, item := range t.Items {
			switch {
			case item.Grade == nil:
				continue
			case item.Role == Hidden:
				r.Reference = *item.Grade
			case item.Role == Anchor || t.triple():
				r.Anchor = *item.Grade
			}
			r.All = append(r.All, *item.Grade)
		}
		rounds = append(rounds, r)
	}
	set := l.Session.Settings
	l.Screening = statistics.ScreenRounds(rounds, cmp.Or(set.Screening, set.Alpha))
	switch {
	case l.Session.Finished.IsZero():
		l.LeftOut = "session not finished"
	case !l.Screening.Kept:
		l.LeftOut = fmt.Sprintf("did not tell the hidden reference from %s (t = %.2f, limit %.2f; exact p %s)", set.told(), l.Screening.T, l.Screening.Critical, chance(l.Screening.Exact))
	default:
		l.Kept = true
	}
	l.Why = "graded session"
}

// told is what the hidden reference must be told from, and screened what is counted.
func (s Settings) told() string {
	if s.Method == Graded {
		return "what was graded beside it"
	}
	return "the low anchor"
}

func (s Settings) screened() string {
	if s.Method == Graded {
		return "trial"
	}
	return "round"
}

// gradedItem is one kind of item of the rounds of a material.
type gradedItem struct {
	role Role
	rung Rung
}

// grades are what one listener gave to each kind of item, and the difference grades: less
// what the hidden reference got in the same trial.
type grades map[gradedItem]struct{ plain, differences []float64 }

// add takes a trial.
func (g grades) add(t *Trial) {
	hidden := t.Items[positionOf(t, Hidden)].Grade
	for _, item := range t.Items {
		if item.Grade == nil || hidden == nil {
			continue
		}
		k := gradedItem{item.Role, item.Rung}
		own := g[k]
		own.plain = append(own.plain, *item.Grade)
		own.differences = append(own.differences, *item.Grade-*hidden)
		g[k] = own
	}
}

// poolGrades averages the grades of each kind of item, first within a listener and then
// over the kept ones, and analyses the variance of the difference grades where every
// listener has a full set. Sessions of two methods are not averaged.
func (m *MaterialResult) poolGrades() {
	var order []gradedItem
	var listeners []grades
	var method Method
	others := 0
	for i := range m.Listeners {
		l := &m.Listeners[i]
		if !l.Kept || !l.Session.Settings.Graded() {
			continue
		}
		if method = cmp.Or(method, l.Session.Settings.Method); l.Session.Settings.Method != method {
			others++
			continue
		}
		own := grades{}
		for j := range l.Trials {
			if l.Trials[j].Kind == GradedKind {
				own.add(&l.Trials[j])
			}
		}
		for k := range own {
			if !slices.Contains(order, k) {
				order = append(order, k)
			}
		}
		listeners = append(listeners, own)
	}
	if others > 0 {
		m.Warnings = append(m.Warnings, fmt.Sprintf("%d sessions graded by another method are not in the grades, which are %s", others, method))
	}
	slices.SortFunc(order, func(a, b gradedItem) int {
		return cmp.Or(cmp.Compare(boolean(a.role == Hidden), boolean(b.role == Hidden)), cmp.Compare(b.rung.Residual, a.rung.Residual))
	})
	for _, k := range order {
		m.Grades = append(m.Grades, gradeOf(k, listeners))
	}
	m.analyse(order, listeners)
}

func boolean(b bool) int {
	if b {
		return 1
	}
	return 0
}

// gradeOf is the panel's grade of one kind of item.
func gradeOf(k gradedItem, listeners []grades) GradeResult {
	g := GradeResult{Role: k.role, Residual: float64(k.rung.Residual), Place: Place{k.rung.Quiescent, k.rung.Bias}, Predicted: math.NaN()}
	if k.role == Hidden {
		g.Residual, g.Place = math.NaN(), Place{math.NaN(), math.NaN()}
	}
	var plain, differences []float64
	for _, own := range listeners {
		if of := own[k]; len(of.plain) > 0 {
			plain, differences = append(plain, mean(of.plain)), append(differences, mean(of.differences))
		}
	}
	g.Grade = statistics.SummariseWithin(plain, 1, 5, intervalLevel)
	g.Difference = statistics.SummariseWithin(differences, -4, 4, intervalLevel)
	return g
}

// analyse adds the analysis of variance of the difference grades: is there a difference
// between the biases?
func (m *MaterialResult) analyse(order []gradedItem, listeners []grades) {
	var y [][][]float64
	for _, own := range listeners {
		var row [][]float64
		for _, k := range order {
			if k.role != Hidden {
				row = append(row, own[k].differences)
			}
		}
		y = append(y, row)
	}
	if effects, err := statistics.TwoWay(y); err == nil {
		m.Variance = effects
	}
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}
