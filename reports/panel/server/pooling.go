package server

import (
	"cmp"
	"fmt"
	"slices"

	"quietcross/reports/panel/statistics"
)

// GradeResult is the panel's difference grade of one kind of item: its grade
// less that of the hidden reference in the same round.
type GradeResult struct {
	Role     Role
	Residual float64 // decibels
	Place    Place
	// Difference is over the means of the listeners who were kept.
	Difference statistics.Mean
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
	m.poolGrades()
	m.align()
	m.countOut()
}

// leaveOutAgain leaves out a further session of a listener who has been kept: a
// panel is made of listeners, and two sessions of one are not two.
func (m *MaterialResult) leaveOutAgain(l *ListenerResult) {
	for i := range m.Listeners {
		if other := &m.Listeners[i]; l.Kept && other.Kept && other.Session.Code == l.Session.Code {
			l.Kept, l.LeftOut = false, "a further session of this listener"
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
		case l.Established || l.Session.Settings.Method == Graded || l.Session.Settings.Method == Triangle:
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

// screenGrades post-screens a graded session by its difference grades.
func (l *ListenerResult) screenGrades() {
	var differences []float64
	for i := range l.Trials {
		hidden, ok := gradeOf(&l.Trials[i], Hidden)
		if !ok {
			continue
		}
		for _, item := range l.Trials[i].Items {
			if item.Grade != nil && (item.Role == Rendered || item.Role == Anchor) {
				differences = append(differences, *item.Grade-hidden)
			}
		}
	}
	l.Screening = statistics.ScreenGrades(differences, l.Session.Settings.Alpha)
	switch {
	case l.Session.Finished.IsZero():
		l.LeftOut = "session not finished"
	case !l.Screening.Kept:
		l.LeftOut = fmt.Sprintf("did not tell the hidden reference from the rest (t = %.2f, limit %.2f)", l.Screening.T, l.Screening.Critical)
	default:
		l.Kept = true
	}
	l.Why = "graded session"
}

func gradeOf(t *Trial, role Role) (float64, bool) {
	for _, item := range t.Items {
		if item.Role == role && item.Grade != nil {
			return *item.Grade, true
		}
	}
	return 0, false
}

// poolGrades averages the difference grades of each rung, first within a
// listener and then over the kept ones.
func (m *MaterialResult) poolGrades() {
	type kind struct {
		role Role
		rung Rung
	}
	var order []kind
	values := map[kind][]float64{}
	for i := range m.Listeners {
		l := &m.Listeners[i]
		if !l.Kept || l.Session.Settings.Method != Graded {
			continue
		}
		sums := map[kind][]float64{}
		for j := range l.Trials {
			hidden, ok := gradeOf(&l.Trials[j], Hidden)
			for _, item := range l.Trials[j].Items {
				if ok && item.Grade != nil && item.Role != Hidden {
					k := kind{item.Role, item.Rung}
					sums[k] = append(sums[k], *item.Grade-hidden)
				}
			}
		}
		for k, s := range sums {
			if values[k] == nil {
				order = append(order, k)
			}
			values[k] = append(values[k], mean(s))
		}
	}
	slices.SortFunc(order, func(a, b kind) int { return cmp.Compare(b.rung.Residual, a.rung.Residual) })
	for _, k := range order {
		m.Grades = append(m.Grades, GradeResult{
			Role: k.role, Residual: float64(k.rung.Residual), Place: Place{k.rung.Quiescent, k.rung.Bias},
			Difference: statistics.Summarise(values[k], intervalLevel),
		})
	}
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}
