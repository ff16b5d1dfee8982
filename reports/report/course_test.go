package report

import (
	"math"
	"testing"

	"quietcross/dsp/hearing"
)

// A long series is joined: no value is lost that is the maximum of its stretch,
// and each stands at its time.
func TestCourseKeepsTheMaximum(t *testing.T) {
	const hop = 1024. / 48000
	s := hearing.Course{Step: hop}
	for i := range 2800 { // a minute
		s.Moments = append(s.Moments, hearing.Moment{Time: hop * float64(i+1)})
	}
	s.Moments[1234].DPrime = hearing.Sensitivity(0.75)
	c := course(s, 60)
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
	short := course(hearing.Course{Step: hop, Moments: s.Moments}, 3.5*hop)
	if short.Step != hop || short.Start != hop || len(short.Probability) != 3 {
		t.Errorf("a short series became %+v", short)
	}
	if empty := course(hearing.Course{}, 1); len(empty.Probability) != 0 {
		t.Errorf("nothing became %+v", empty)
	}
}
