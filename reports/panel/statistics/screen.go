package statistics

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// MinimumListeners is the size of panel that ITU-R BS.1116-3 finds usually
// sufficient for conclusions from a test.
const MinimumListeners = 20

// Screening is the post-screening of one listener by a one-sided t test.
type Screening struct {
	N        int
	Mean, SD float64 // of the difference grades
	T        float64 // mean over its standard error; 0 when N < 2
	Critical float64 // T must lie below this (a negative number)
	P        float64 // one-sided probability of T under a mean of zero
	Kept     bool    // the listener told the hidden reference from the rest
}

// ScreenGrades post-screens a listener after ITU-R BS.1116-3: the difference
// grades (grade of the impaired item minus grade given to the hidden reference;
// negative when the two were told apart) are tested against a mean of zero by a
// one-sided t test at the given size, 0.05 there. A listener who does not reach
// it was guessing and is not kept. Fewer than two grades never keep a listener.
func ScreenGrades(differences []float64, alpha float64) Screening {
	checkProbability("alpha", alpha)
	n := len(differences)
	s := Screening{N: n, P: 1}
	if n < 2 {
		return s
	}
	s.Mean, s.SD = stat.MeanStdDev(differences, nil)
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(n - 1)}
	s.Critical = t.Quantile(alpha)
	switch {
	case s.SD > 0:
		s.T = s.Mean / (s.SD / math.Sqrt(float64(n)))
	case s.Mean != 0:
		s.T = math.Inf(int(math.Copysign(1, s.Mean)))
	}
	s.P = t.CDF(s.T)
	if math.IsInf(s.T, -1) {
		s.P = 0
	}
	s.Kept = s.T < s.Critical
	return s
}

// ScreenReference post-screens a listener after ITU-R BS.1534-3: one who grades
// the hidden reference under 90 of 100 in more than 15 % of the items is not
// kept. It panics when a grade lies outside [0, 100] and keeps nobody without
// grades.
func ScreenReference(hidden []float64) bool {
	low := 0
	for _, g := range hidden {
		if !(g >= 0 && g <= 100) {
			panic(fmt.Sprintf("statistics: grade %g outside [0, 100]", g))
		}
		if g < 90 {
			low++
		}
	}
	return len(hidden) > 0 && float64(low) <= 0.15*float64(len(hidden))
}

// Mean is a mean with its confidence interval from the t distribution.
type Mean struct {
	N        int
	Mean, SD float64
	Interval Interval // infinite when N < 2
	Warnings []string
}

// Summarise returns the mean of the values with its two-sided interval, as
// ITU-R BS.1116-3 and BS.1534-3 ask for each condition. Fewer values than
// [MinimumListeners] carry a warning. Without values the mean is NaN.
func Summarise(values []float64, level float64) Mean {
	n := len(values)
	m := Mean{N: n, Mean: math.NaN(), SD: math.NaN(), Interval: Interval{Lo: math.Inf(-1), Hi: math.Inf(1), Level: level}}
	if n < MinimumListeners {
		m.Warnings = append(m.Warnings, fmt.Sprintf("%d of the %d listeners that ITU-R BS.1116-3 asks for", n, MinimumListeners))
	}
	switch {
	case n == 1:
		m.Mean = values[0]
	case n > 1:
		m.Mean, m.SD = stat.MeanStdDev(values, nil)
		half := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(n - 1)}.Quantile(1-(1-level)/2) * m.SD / math.Sqrt(float64(n))
		m.Interval.Lo, m.Interval.Hi = m.Mean-half, m.Mean+half
	}
	return m
}
