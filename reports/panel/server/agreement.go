package server

import (
	"fmt"
	"math"
)

// By ear and by number stand side by side; here is said whether they agree. The
// prediction carries no interval of its own, so that agreement means no more than that
// it lies where the panel's mean may.

// judge fills in what the prediction says of the grades.
func (m *MaterialResult) judge() {
	if m.Expected == nil {
		return
	}
	for i := range m.Grades {
		if g := &m.Grades[i]; g.Role != Hidden {
			g.Predicted = m.Expected.gradeAt(g.Place.Quiescent)
		}
	}
}

// gradeAt interpolates the predicted grade on the logarithm of the current, NaN outside.
func (p *Prediction) gradeAt(quiescent float64) float64 {
	for i := 1; i < len(p.Grades); i++ {
		a, b := p.Grades[i-1], p.Grades[i]
		if quiescent < a.Quiescent*(1-1e-9) || quiescent > b.Quiescent*(1+1e-9) || a.Quiescent <= 0 {
			continue
		}
		share := math.Log(quiescent/a.Quiescent) / math.Log(b.Quiescent/a.Quiescent)
		return a.Grade + share*(b.Grade-a.Grade)
	}
	return math.NaN()
}

// Agreement says how the two thresholds stand to each other, "" without both.
func (m *MaterialResult) Agreement() string {
	if m.Pooled == nil || m.Expected == nil || math.IsNaN(m.Expected.Residual) {
		return ""
	}
	d := m.Expected.Residual - m.Pooled.Mean
	sign := "above"
	if d < 0 {
		sign = "below"
	}
	text := fmt.Sprintf("The prediction lies %s dB %s the panel's mean", fixed(1, math.Abs(d)), sign)
	switch i := m.Pooled.Interval; {
	case m.Pooled.N < 2:
		text += "; one listener gives it no interval to lie in"
	case i.Contains(m.Expected.Residual):
		text += ", inside its 95 % interval: they agree as far as this panel can tell"
	default:
		text += ", outside its 95 % interval: they do not agree"
	}
	if m.Playback == nil {
		text += "; but the level at the ear is not known"
	}
	return text + "."
}
