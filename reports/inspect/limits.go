package inspect

import (
	"errors"
	"fmt"
	"math"

	"quietcross/corpus/bias"
	"quietcross/reports/view/format"
	"quietcross/stage"
	"quietcross/stage/network"
)

// What a setting does beyond its steady figures: the drift of its current through warming
// up, a loud passage and the quiet that follows, the load lines of its output devices with
// a resistor and with a load of 45 degrees, the intermodulation that only time shows, and
// what the supply does. Each is of the stage file's own air and of a sine at the drive.

// WarmConstants is after how many time constants of its sink a stage counts as warm, 2 % of
// its rise being left then, and PassageSeconds how long a loud passage is, s.
const (
	WarmConstants  = 4
	PassageSeconds = 60
)

// How long warming up is shown at least and at most, and the load.
const (
	shortestRest = 60   // s
	longestRest  = 7200 // s
	reactive     = 45   // degrees of the load that is held against the safe area
)

// transientLevel is the level of the intermodulation signals, dB re the drive.
const transientLevel = -6

// Limits is what a setting does at the edges of what its parts stand.
type Limits struct {
	Drift stage.Drift
	// Rested and Quietened are the ends of warming up and of the quiet, s; the passage
	// begins at Rested.
	Rested, Quietened float64
	// Case is the temperature of the hotter case, K, when the stage has settled at the
	// drive, and Line and Angle the load lines with the case so warm: into the load's
	// resistance and into a load of its size and 45 degrees. Angle is nil where that has no
	// solution.
	Case  float64
	Line  stage.LoadLine
	Angle *stage.LoadLine
	// Transient is the intermodulation 6 dB under the drive, nil where it has no solution.
	Transient *bias.Transient
	// Rails are the supplies under a sine at the drive, and Hum what their ripple does.
	Rails []stage.RailUnder
	Hum   stage.Hum
	// Broken names each limit that is broken beside those of heat, a sentence each.
	Broken []string
}

// limits works them out.
func (r *Rung) limits(ladder *bias.Ladder) error {
	b, drive := r.Biased(), ladder.Drive()
	if err := r.drift(ladder.Stage(), drive); err != nil {
		return err
	}
	if err := r.loadLines(ladder.Stage(), drive); err != nil {
		return err
	}
	transient, err := r.Evaluation.Transient(drive * math.Pow(10, transientLevel/20.0))
	if err = unsolved(err); err != nil {
		return err
	}
	if len(transient.Square) > 0 && len(transient.Difference) > 0 {
		r.Limits.Transient = &transient
	}
	if _, r.Limits.Rails, err = b.Sagged(stage.Sine(drive)); err != nil {
		return err
	}
	r.Limits.Hum, err = b.Hum()
	if err = unsolved(err); err != nil {
		return err
	}
	r.broken(ladder)
	return nil
}

// unsolved keeps an error unless it is that of a state that has no solution, such as of a
// loop that cannot follow.
func unsolved(err error) error {
	if errors.Is(err, network.ErrNoPoint) || errors.Is(err, stage.ErrUnstable) {
		return nil
	}
	return err
}

// drift takes the setting through its course.
func (r *Rung) drift(st *stage.Stage, drive float64) error {
	spec := st.Spec()
	constant := spec.Thermal.SinkToAir * spec.Thermal.SinkStore
	rest := min(max(WarmConstants*constant, shortestRest), longestRest)
	quiet := max(rest/2, shortestRest)
	l := &r.Limits
	l.Rested, l.Quietened = rest, rest+PassageSeconds+quiet
	conditions := st.Conditions(stage.Sine(drive))
	var err error
	l.Drift, err = r.Biased().Drift(stage.Course{Air: conditions.Air, Maximum: conditions.Maximum, Stretches: []stage.Stretch{
		{Seconds: rest, Signal: stage.Sine(0)}, {Seconds: PassageSeconds, Signal: conditions.Signal}, {Seconds: quiet, Signal: stage.Sine(0)},
	}})
	return err
}

// loadLines solves the load lines with the cases as warm as a sine at the drive makes them.
func (r *Rung) loadLines(st *stage.Stage, drive float64) error {
	_, settled, err := r.WarmUp(st.Conditions(stage.Sine(drive)))
	if err != nil {
		return err
	}
	l := &r.Limits
	l.Case = settled.Hottest()
	if settled.Verdict == stage.Settles {
		upper, lower := settled.Cases()
		l.Case = max(upper, lower)
	}
	b := r.Biased()
	if l.Line, err = b.LoadLine(drive, l.Case); err != nil {
		return err
	}
	steady, err := b.AtAngle(drive, reactive)
	if err == nil {
		line := steady.LoadLine(l.Case)
		l.Angle = &line
	}
	if refused := (*stage.Error)(nil); errors.As(err, &refused) {
		return nil // a stage that no such load can be solved for
	}
	return unsolved(err)
}

// overheats is by how much a device into a load of 45 degrees may be hotter than one into
// its resistance before that is told.
const overheats = 1.05

// Edge names a limit beside those of heat.
type Edge string

// The edges.
const (
	SafeArea  Edge = "safe area"
	Reactive  Edge = "load of 45 degrees" // its safe area, or its heat
	Course    Edge = "heat in time"
	ClipsHere Edge = "clipping"
)

// Breach is an edge that a setting breaks, with the sentence that says so.
type Breach struct {
	Edge Edge
	Text string
}

// Breaches returns the edges that a setting breaks, without what else [Look] works out.
func Breaches(ladder *bias.Ladder, setting stage.Setting) ([]Breach, error) {
	e, err := ladder.At(setting)
	if err != nil {
		return nil, err
	}
	r := Rung{Evaluation: e}
	st, drive := ladder.Stage(), ladder.Drive()
	if r.Full, err = r.Settle(st.Conditions(stage.Sine(drive))); err != nil {
		return nil, err
	}
	if err := r.drift(st, drive); err != nil {
		return nil, err
	}
	if err := r.loadLines(st, drive); err != nil {
		return nil, err
	}
	return r.breaches(ladder), nil
}

// broken names the limits that are broken.
func (r *Rung) broken(ladder *bias.Ladder) {
	for _, b := range r.breaches(ladder) {
		r.Limits.Broken = append(r.Limits.Broken, b.Text)
	}
}

// breaches names the edges that are broken, load lines and drift being known.
func (r *Rung) breaches(ladder *bias.Ladder) []Breach {
	l := &r.Limits
	var list []Breach
	add := func(edge Edge, text string, arguments ...any) {
		list = append(list, Breach{edge, fmt.Sprintf(text, arguments...)})
	}
	if l.Line.Worst.Use > 1 {
		add(SafeArea, "outside the safe operating area at the drive, into the load's resistance, case at %s: %s", format.Celsius(l.Case), l.Line.Worst)
	}
	if l.Angle != nil && l.Angle.Worst.Use > 1 {
		add(Reactive, "outside the safe operating area at the drive, into a load of %d degrees, case at %s: %s", reactive, format.Celsius(l.Case), l.Angle.Worst)
	}
	if chain := ladder.Stage().Chain(); l.Angle != nil && l.Angle.Heat > overheats*l.Line.Heat {
		limit := ladder.Stage().Spec().Thermal.MaximumJunction
		if junction := l.Case + chain.JunctionToCase*l.Angle.Heat; junction > limit && r.Full.Junction <= limit {
			add(Reactive, "a junction passes %s at the drive into a load of %d degrees, where a device takes %s: %s",
				format.Celsius(limit), reactive, format.Quantity(l.Angle.Heat, "W"), format.Celsius(junction))
		}
	}
	if l.Drift.GivenUp {
		add(Course, "the current runs away on the way through warming up, a loud passage and the quiet that follows")
	}
	if r.Clips(ladder.Drive()) {
		add(ClipsHere, "the drive, that of the stage as built, is beyond this setting's own clipping onset")
	}
	return list
}

// currents returns the quiescent currents of the course, A: at
// switch-on, at most while the stage warms up, warmed up, at most in the passage, and at
// least in the quiet that follows it; NaN for what the course does not reach.
func (l *Limits) currents() (cold, peak, settled, loud, quiet float64) {
	d := &l.Drift
	at := func(end int) float64 {
		if end < len(d.Ends) {
			return d.Moments[d.Ends[end]].Quiescent
		}
		return math.NaN()
	}
	cold = math.NaN()
	if len(d.Moments) > 0 {
		cold = d.Moments[0].Quiescent
	}
	return cold, d.Maximum(0, l.Rested).Quiescent, at(0),
		d.Maximum(l.Rested, l.Rested+PassageSeconds).Quiescent, d.Minimum(l.Rested+PassageSeconds, l.Quietened).Quiescent
}
