package quiescent

import (
	"fmt"
	"math"
	"slices"

	"quietcross/corpus/bias"
	"quietcross/reports/inspect"
	"quietcross/reports/view/format"
	"quietcross/stage"
)

// The output devices have limits that no bias moves: the safe operating area, into the
// load's resistance and into a load of 45 degrees, and the heat of the latter. Where the
// current to set breaks one, as inspect finds it, the changes of the stage that keep within
// are looked for by the same path, each by as little as does it: more devices in parallel,
// that share current and heat; a larger sink, which leaves the cases more of what they are
// allowed; lower rails and a load of more ohms, which take the drive and the power with them.

// edges names the limits beside those of heat and hearing that a current breaks, and tries
// what would mend those of the output devices.
func (c *climber) edges(r *Result, quiescent float64) error {
	broken, err := inspect.Breaches(c.ladder, stage.Quiescent(quiescent))
	if err != nil {
		return err
	}
	var mend []Binding
	for _, b := range broken {
		r.Edges = append(r.Edges, b.Text)
		if limit := Binding(b.Edge); ofDevices(b.Edge) && !slices.Contains(mend, limit) {
			mend = append(mend, limit)
		}
	}
	if len(mend) > 0 {
		r.Remedies = append(r.Remedies, c.within(quiescent, mend)...)
	}
	return nil
}

// ofDevices tells whether an edge is one of the output devices.
func ofDevices(e inspect.Edge) bool { return e == inspect.SafeArea || e == inspect.Reactive }

// mostDevices is how many devices are tried in place of each, leastRails and largestOhms how
// far rails and load are moved, as parts of what they are, and smallestSink how far a sink
// is, K/W.
const (
	mostDevices  = 8
	leastRails   = 0.3
	largestOhms  = 4
	smallestSink = 0.01
)

// An attempt is a change of the stage by one number, from what it is to an end, with the
// current of one device at which the stage is then looked at.
type attempt struct {
	key, unit, note string
	from, to        float64
	whole           bool // a number that is counted
	change          func(s *stage.Spec, value float64) (share float64)
}

// attempts are the changes that may keep the output devices within their limits.
func attempts(spec stage.Spec) []attempt {
	have := max(spec.Parallel.Devices, 1)
	return []attempt{
		{"parallel.devices", "", "devices in parallel, each with its share of the current and as much more emitter resistance", float64(have), mostDevices, true, func(s *stage.Spec, n float64) float64 {
			s.Parallel.Fitted, s.Parallel.Devices = true, int(n)
			s.Emitter.Ohms *= n / float64(have)
			return float64(have) / n
		}},
		{"thermal.sink_to_air", "K/W", "larger sink", spec.Thermal.SinkToAir, smallestSink, false, func(s *stage.Spec, v float64) float64 {
			s.Thermal.SinkToAir = v
			return 1
		}},
		{"supply.positive", "V", "lower rails, and the drive with them", spec.Supply.Positive, leastRails * spec.Supply.Positive, false, func(s *stage.Spec, v float64) float64 {
			s.Supply.Negative *= v / s.Supply.Positive
			s.Supply.Positive = v
			return 1
		}},
		{"load.resistance", "ohm", "a load of more ohms", spec.Load.Ohms, largestOhms * spec.Load.Ohms, false, func(s *stage.Spec, v float64) float64 {
			s.Load.Ohms = v
			return 1
		}},
	}
}

// within tries each change for the limits of the output devices at a current.
func (c *climber) within(quiescent float64, limits []Binding) []Remedy {
	var list []Remedy
	for _, a := range attempts(c.stage.Spec()) {
		r := Remedy{Key: a.key, Unit: a.unit, For: limits, From: a.from, To: a.to, Quiescent: quiescent}
		meets := func(value float64) bool {
			spec := c.stage.Spec()
			share := a.change(&spec, value)
			return c.keeps(spec, quiescent*share)
		}
		switch {
		case a.whole:
			for n := a.from + 1; n <= a.to && !r.Works; n++ {
				if meets(n) {
					r.To, r.Works = n, true
				}
			}
		case a.from != a.to && meets(a.to):
			r.To, r.Works = minimumChange(a.from, a.to, meets), true
		}
		spec := c.stage.Spec()
		r.Quiescent = quiescent * a.change(&spec, r.To)
		r.Note = a.note + ": does not help at any value looked at"
		if r.Works {
			r.Note = a.note + ": within the limits of the output devices" + c.drives(spec)
		}
		list = append(list, r)
	}
	return list
}

// keeps tells whether a changed stage keeps within the limits of its output devices at a
// current and within those of heat, at its own drive.
func (c *climber) keeps(spec stage.Spec, quiescent float64) bool {
	st, err := stage.New(spec)
	if err != nil {
		return false
	}
	ladder, err := bias.NewLadder(st, nil)
	if err != nil {
		return false
	}
	broken, err := inspect.Breaches(ladder, stage.Quiescent(quiescent))
	return err == nil && !slices.ContainsFunc(broken, func(b inspect.Breach) bool { return ofDevices(b.Edge) || b.Edge == inspect.Course })
}

// drives says what power a changed stage leaves at its drive, where that is another.
func (c *climber) drives(spec stage.Spec) string {
	st, err := stage.New(spec)
	if err != nil {
		return ""
	}
	ladder, err := bias.NewLadder(st, nil)
	if err != nil {
		return ""
	}
	was, now := sinePower(c.ladder.Drive(), c.stage.Spec().Load.Ohms), sinePower(ladder.Drive(), spec.Load.Ohms)
	if math.Abs(now/was-1) < 0.01 {
		return ""
	}
	return fmt.Sprintf(", with about %s of the output at the drive", format.Percent(now/was, 2))
}

// sinePower is the power of a sine of a peak, V, in a resistance, ohms, W.
func sinePower(peak, ohms float64) float64 { return peak * peak / (2 * ohms) }
