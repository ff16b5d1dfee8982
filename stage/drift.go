package stage

import (
	"errors"
	"math"

	"quietcross/stage/circuits"
	"quietcross/stage/heat"
	"quietcross/stage/network"
)

// A quiescent current drifts as heat moves: the junctions follow a loud passage within a
// second, the sink within minutes, and the bias part after the sink. Loud music thus
// heats the junctions before the bias part takes current back, and in the quiet that
// follows the junctions are cool again while the bias part is still warm: the stage is
// under-biased just when its crossover can be heard.
//
// The course of a signal is a row of stretches, each of which costs mean powers by its
// profile, as in steady heat. Over a step the powers are taken to run in a straight line
// and the thermal chain then follows exactly (heat.Warming.Ramp); the powers at the
// end are solved for at the temperatures that the powers at the beginning predict, and
// steps are as long as that changes little.

// Stretch is a signal that goes on for a time.
type Stretch struct {
	Seconds float64 // > 0
	Signal  Signal
}

// Course is what a stage goes through.
type Course struct {
	Air float64 // K
	// From is where it begins; nil: switched on, all at the air's temperature.
	From      *Heat
	Stretches []Stretch
	// Maximum is a junction's temperature, K, at which the stage is given up.
	Maximum float64
}

// Heat is the temperatures of a stage, K.
type Heat struct {
	circuits.Temperatures
	Sink float64
}

// Heat returns where a settled stage stands.
func (s *Settled) Heat() *Heat { return &Heat{s.Temperatures, s.Sink} }

// Moment is a stage on its course.
type Moment struct {
	Seconds   float64 // since its beginning
	Quiescent float64 // current that would flow with no signal at these temperatures, A
	Heat
	UpperCase, LowerCase float64 // K; LowerCase is 0 for a lone device
	Dissipation          float64 // mean power of the output devices, W
}

// Hottest returns the temperature of the hotter output junction, K.
func (m *Moment) Hottest() float64 { return max(m.Upper, m.Lower) }

// Drift is what a course does to a stage.
type Drift struct {
	Moments []Moment // from the beginning; at least one at each end of a stretch
	// Ends are the places in Moments at which the stretches end.
	Ends []int
	// GivenUp tells that a junction passed the course's maximum by 200 K or left no
	// operating point; the moments end there.
	GivenUp bool
}

// Maximum and Minimum return the moments of the most and of the least quiescent current
// from one time to another, in seconds.
func (d *Drift) Maximum(from, to float64) Moment {
	return d.extreme(from, to, func(a, b float64) bool { return a > b })
}

// Minimum is the like of Maximum.
func (d *Drift) Minimum(from, to float64) Moment {
	return d.extreme(from, to, func(a, b float64) bool { return a < b })
}

func (d *Drift) extreme(from, to float64, beyond func(a, b float64) bool) Moment {
	var found *Moment
	for i := range d.Moments {
		m := &d.Moments[i]
		if m.Seconds >= from && m.Seconds <= to && (found == nil || beyond(m.Quiescent, found.Quiescent)) {
			found = m
		}
	}
	if found == nil {
		return Moment{Quiescent: math.NaN()}
	}
	return *found
}

const (
	driftKelvin = 0.02  // what the end of a step may miss its prediction by
	driftGrowth = 2.0   // of a step, at most
	driftFirst  = 0.1   // the first step of a stretch, in the chain's fastest time constants
	driftSteps  = 20000 // of one stretch, at most
)

// Drift takes the stage through a course. It panics unless all stretches last. The error
// is that of an operating point that is not found while no junction is too hot.
func (b *Biased) Drift(c Course) (Drift, error) {
	d := drifting{biased: b, on: b.stage.built(b.setting, b.made), chain: b.stage.warming(len(b.net.All())), course: c}
	d.chain.Ambient = c.Air
	d.t = circuits.Uniform(c.Air)
	d.chain.Sink, d.chain.Bias = c.Air, c.Air
	for i := range d.chain.Junctions {
		d.chain.Junctions[i] = c.Air
	}
	if c.From != nil {
		d.begin(c.From)
	}
	for _, s := range c.Stretches {
		if !(s.Seconds > 0) {
			panic("stage: a stretch of a course that does not last")
		}
		if err := d.stretch(s); err != nil {
			return d.drift, err
		}
		d.drift.Ends = append(d.drift.Ends, len(d.drift.Moments)-1)
		if d.drift.GivenUp {
			break
		}
	}
	return d.drift, nil
}

// drifting is a stage on its course.
type drifting struct {
	biased  *Biased
	on      *built
	course  Course
	chain   *heat.Warming
	t       circuits.Temperatures
	seconds float64
	drift   Drift
}

func (d *drifting) begin(h *Heat) {
	d.t = h.Temperatures
	d.chain.Sink, d.chain.Bias = h.Sink, h.Bias
	spread(d.chain.Junctions, d.biased.net, h.Temperatures)
}

// stretch goes through one stretch.
func (d *drifting) stretch(s Stretch) error {
	profile := s.Signal.coarse()
	from, quiescent, err := d.powers(profile, s.Signal.Peak())
	if err != nil {
		return d.leave(err)
	}
	if len(d.drift.Moments) == 0 {
		d.note(quiescent, from)
	}
	end := d.seconds + s.Seconds
	step := min(driftFirst*d.chain.Fastest(), s.Seconds)
	for range driftSteps {
		step = min(step, end-d.seconds)
		predicted, before := d.at(from, from, step), *d.chain
		d.take(predicted)
		to, _, err := d.powers(profile, s.Signal.Peak())
		if err != nil {
			return d.leave(err)
		}
		*d.chain = before
		corrected := d.at(from, to, step)
		missed := apartChains(predicted, corrected)
		if missed > driftKelvin && step > 1e-3*d.chain.Fastest() {
			step *= max(0.2, 0.8*math.Sqrt(driftKelvin/missed))
			continue
		}
		d.take(corrected)
		d.seconds += step
		if from, quiescent, err = d.powers(profile, s.Signal.Peak()); err != nil {
			return d.leave(err)
		}
		d.note(quiescent, from)
		if last := &d.drift.Moments[len(d.drift.Moments)-1]; last.Hottest() > d.course.Maximum+beyondLimit {
			d.drift.GivenUp = true
			return nil
		}
		if end-d.seconds < 1e-9*end {
			return nil
		}
		step *= min(driftGrowth, 0.9*math.Sqrt(driftKelvin/max(missed, 1e-9)))
	}
	return errors.New("stage: a stretch of the course takes too many steps")
}

// leave ends the course where a junction is too hot to have an operating point.
func (d *drifting) leave(err error) error {
	if errors.Is(err, network.ErrNoPoint) && max(d.t.Upper, d.t.Lower) > d.course.Maximum {
		d.drift.GivenUp = true
		return nil
	}
	return err
}

// at returns the chain after a step with powers along a straight line.
func (d *drifting) at(from, to []float64, step float64) *heat.Warming {
	next := *d.chain
	next.Junctions = append([]float64(nil), d.chain.Junctions...)
	next.Ramp(from, to, step)
	return &next
}

// take goes over to the temperatures of a chain.
func (d *drifting) take(w *heat.Warming) {
	*d.chain = *w
	d.t.Bias = w.Bias
	gather(&d.t, d.biased.net, w.Junctions)
}

func apartChains(a, b *heat.Warming) float64 {
	most := max(math.Abs(a.Sink-b.Sink), math.Abs(a.Bias-b.Bias))
	for i := range a.Junctions {
		most = max(most, math.Abs(a.Junctions[i]-b.Junctions[i]))
	}
	return most
}

// powers solves the mean powers of the output devices and the quiescent current at the
// present temperatures.
func (d *drifting) powers(profile Profile, peak float64) ([]float64, float64, error) {
	b, err := d.on.at(d.t)
	if err != nil {
		return nil, 0, err
	}
	power, err := b.powerOver(profile, peak)
	if err != nil {
		return nil, 0, err
	}
	places := b.net.All()
	list := make([]float64, len(places))
	for i, o := range places {
		list[i] = power.Devices[o].Mean
	}
	return list, b.point.Quiescent, nil
}

// note writes the present moment down.
func (d *drifting) note(quiescent float64, powers []float64) {
	m := Moment{Seconds: d.seconds, Quiescent: quiescent, Heat: Heat{d.t, d.chain.Sink}, UpperCase: d.chain.Case(0)}
	if len(d.biased.net.Sides) > 1 {
		m.LowerCase = d.chain.Case(len(d.biased.net.Sides[0]))
	}
	for _, p := range powers {
		m.Dissipation += p
	}
	d.drift.Moments = append(d.drift.Moments, m)
}
