package quiescent

import (
	"context"
	"math"
	"slices"

	"golang.org/x/sync/errgroup"
	"gonum.org/v1/gonum/stat"

	"quietcross/corpus/bias"
	"quietcross/stage"
)

// Yield is how built units fare, their bias made in two ways from the same draws.
type Yield struct {
	Units int `json:"units"`
	// Quiescent is the current that was meant, A.
	Quiescent  float64    `json:"quiescent_a"`
	Seed       uint64     `json:"seed"`
	Tolerances Tolerances `json:"tolerances"`
	// Trimmed units had the mean voltage across their emitter resistors set, cold;
	// Fixed units all have the trimmed part of the stage with nominal devices.
	Trimmed Batch `json:"trimmed"`
	Fixed   Batch `json:"fixed"`
}

// Batch is the outcome of one way.
type Batch struct {
	// Meet is the share of units that meet all limits, with its 95 % interval
	// (Wilson). A unit meets that of audibility when its settled current at rest,
	// in its own air, is at least the minimum current of the recommendation.
	Meet     float64 `json:"meet"`
	MeetLow  float64 `json:"meet_low"`
	MeetHigh float64 `json:"meet_high"`
	// Fails counts units by the limit they break first.
	Fails map[Binding]int `json:"fails,omitempty"`
	// Cold is each unit's current as set and Warm as settled at rest in its own
	// air, A, 0 for a unit without an operating point.
	Cold []float64 `json:"cold_a"`
	Warm []float64 `json:"warm_a"`
	// Mean and Deviation are those of Cold, the others those of Warm, units without an
	// operating point left out.
	Mean          float64 `json:"mean_a"`
	Deviation     float64 `json:"deviation_a"`
	WarmMean      float64 `json:"warm_mean_a"`
	WarmDeviation float64 `json:"warm_deviation_a"`
}

// outcome is one unit in one way.
type outcome struct {
	cold, warm float64
	fails      Binding
}

// yield draws the units and works each out in both ways.
func (c *climber) yield(ctx context.Context, minimum, quiescent float64, told func()) (*Yield, error) {
	o := c.options
	y := &Yield{Units: o.Units, Quiescent: quiescent, Seed: o.Seed, Tolerances: o.Tolerances}
	nominal, err := c.stage.Set(stage.Quiescent(quiescent))
	if err != nil {
		return nil, err
	}
	parts := nominal.Trimmed()
	trimmed, fixed := make([]outcome, o.Units), make([]outcome, o.Units)
	group, ctx := errgroup.WithContext(ctx)
	group.SetLimit(o.Workers)
	for i := range o.Units {
		group.Go(func() error {
			if err := ctx.Err(); err != nil {
				return err
			}
			u := draw(parts, o.Tolerances, o.Limits, o.Seed, uint64(i))
			trimmed[i] = c.fare(u, minimum, stage.Quiescent(u.trimmed(parts, quiescent, c.devices)))
			fixed[i] = c.fare(u, minimum, stage.AsBuilt())
			told()
			return nil
		})
	}
	if err := group.Wait(); err != nil {
		return nil, err
	}
	y.Trimmed, y.Fixed = batch(trimmed), batch(fixed)
	return y, nil
}

// trimmed returns the current of a unit whose emitter resistors carry the voltage,
// in the mean of as many as there are output devices, that the nominal ones would
// at a quiescent current, A.
func (u *unit) trimmed(nominal stage.Spec, quiescent float64, devices int) float64 {
	ohms := u.upper
	if devices > 1 {
		ohms = (u.upper + u.lower) / 2
	}
	if ohms == 0 {
		return quiescent // by the supply current instead
	}
	return quiescent * nominal.Emitter.Ohms / ohms
}

// fare works out one unit at one setting, made with all junctions at the stage
// file's ambient temperature.
func (c *climber) fare(u unit, minimum float64, made stage.Setting) outcome {
	st, err := stage.New(u.spec)
	if err != nil {
		return outcome{fails: BindsCircuit}
	}
	cold, err := st.Set(made)
	if err != nil {
		return outcome{fails: BindsCircuit}
	}
	o := outcome{cold: cold.Point().Quiescent}
	conditions := stage.Conditions{Air: u.ambient, Maximum: c.options.Limits.Junction}
	r := Rung{}
	if r.Idle, _, err = bias.Settle(st, made, conditions); err != nil {
		o.fails = BindsCircuit
		return o
	}
	o.warm = r.Idle.Quiescent
	conditions.Signal = stage.Sine(c.sinePeak)
	if r.Sine, _, err = bias.Settle(st, made, conditions); err != nil {
		o.fails = BindsCircuit
		return o
	}
	r.Programme = r.Sine
	if o.fails = c.meets(&r); o.fails == BindsNothing && o.warm < minimum {
		o.fails = BindsHearing
	}
	return o
}

func batch(outcomes []outcome) Batch {
	b := Batch{Fails: map[Binding]int{}}
	meet := 0
	for _, o := range outcomes {
		b.Cold, b.Warm = append(b.Cold, o.cold), append(b.Warm, o.warm)
		if o.fails == BindsNothing {
			meet++
		} else {
			b.Fails[o.fails]++
		}
	}
	n := float64(len(outcomes))
	b.Meet = float64(meet) / n
	b.MeetLow, b.MeetHigh = wilson(b.Meet, n)
	b.Mean, b.Deviation = spread(b.Cold)
	b.WarmMean, b.WarmDeviation = spread(b.Warm)
	return b
}

// spread returns mean and standard deviation of the currents that there are.
func spread(currents []float64) (mean, deviation float64) {
	flowing := slices.DeleteFunc(slices.Clone(currents), func(q float64) bool { return !(q > 0) })
	switch len(flowing) {
	case 0:
		return 0, 0
	case 1:
		return flowing[0], 0
	}
	return stat.MeanStdDev(flowing, nil)
}

// wilson returns the 95 % interval of a share seen in n draws (E. B. Wilson,
// Journal of the American Statistical Association 22, 1927).
func wilson(share, n float64) (low, high float64) {
	const z = 1.959963984540054
	middle := (share + z*z/(2*n)) / (1 + z*z/n)
	half := z / (1 + z*z/n) * math.Sqrt(share*(1-share)/n+z*z/(4*n*n))
	return max(0, middle-half), min(1, middle+half)
}
