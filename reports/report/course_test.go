package report

import (
	"math"
	"testing"

	"quietcross/dsp/bs1387"
)

// A long series is joined: no value is lost that is the maximum of its stretch,
// and each stands at its time.
func TestCourseKeepsTheMaximum(t *testing.T) {
	const hop = 1024. / 48000
	s := bs1387.Series{Hop: hop}
	for i := range 2800 { // a minute
		s.Moments = append(s.Moments, bs1387.Moment{Time: hop * float64(i+1)})
	}
	s.Moments[1234].Filtered = 0.75
	c := course(s)
	if len(c.Probability) > courseSteps {
		t.Fatalf("%d values", len(c.Probability))
	}
	at := 0
	for i, p := range c.Probability {
		if p > c.Probability[at] {
			at = i
		}
	}
	if c.Probability[at] != 0.75 {
		t.Errorf("the maximum is %g", c.Probability[at])
	}
	if when := c.Start + c.Step*float64(at); math.Abs(when-s.Moments[1234].Time) > c.Step/2 {
		t.Errorf("it stands at %g s, want %g", when, s.Moments[1234].Time)
	}
	short := course(bs1387.Series{Hop: hop, Moments: s.Moments[:3]})
	if short.Step != hop || short.Start != hop || len(short.Probability) != 3 {
		t.Errorf("a short series became %+v", short)
	}
	if empty := course(bs1387.Series{}); len(empty.Probability) != 0 {
		t.Errorf("nothing became %+v", empty)
	}
}

// Once a difference is heard for certain, the worst moment is where it stands
// out most, not where the filter settles.
func TestWorstMomentIsWhereItStandsOut(t *testing.T) {
	moments := []bs1387.Moment{
		{Time: 0.1, Filtered: 0.2, NoiseToMask: 30},
		{Time: 0.2, Filtered: 0.995, NoiseToMask: 12},
		{Time: 0.3, Filtered: 0.9999, NoiseToMask: 3},
		{Time: 0.4, Filtered: 0.99991, NoiseToMask: 12.5},
	}
	if got := worstMoment(moments, 9); got != 0.2 {
		t.Errorf("%g s, want 0.2", got)
	}
	if got := worstMoment(nil, 9); got != 9 {
		t.Errorf("%g s without moments", got)
	}
}
